//! Which facelet each camera sees, how large, how lit, how clearly: for choosing where
//! cameras and lamps go.

mod looks;
mod separability;
mod tolerance;

use dryturn_cube::{CubeState, Face, Facelet, Stickering};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_scene::file::Camera;
use dryturn_scene::{Material, Scene, Visibility};
use dryturn_units::degrees;
use dryturn_units::maths;
use dryturn_units::noise::Seed;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use crate::as_built::AsBuilt;
use crate::develop::grey_patch;
use crate::exposure::{Painted, Shot};
use crate::labels::{GLARE_SHARE, area, share_of};
use crate::lit_view::LitView;
use crate::sensor::{Aperture, CHANNELS, ReadOut};

pub use looks::{LookedAt, Looks};
pub use separability::{PAIRS, Separability, sigmas_between};
pub use tolerance::{Losses, losses};

/// What stands between a camera and a facelet.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hider {
    /// Rod, coupler or cap of a face's shaft.
    Shaft(Face),
    /// The motor of a face.
    Motor(Face),
    /// A fixture, by its place in the scene's list.
    Fixture(usize),
    /// Another piece of the cube.
    Piece,
    /// The edge of the picture.
    PictureEdge,
}

impl Hider {
    fn of(material: Material) -> Self {
        if let Some(face) = material.rod_of() {
            Self::Shaft(face)
        } else if let Some(face) = material.motor_of() {
            Self::Motor(face)
        } else if let Some(index) = material.fixture_index() {
            Self::Fixture(index)
        } else {
            Self::Piece
        }
    }

    /// What a person calls it.
    #[must_use]
    pub fn name(&self, scene: &Scene) -> String {
        match self {
            Self::Shaft(face) => format!("shaft {face}"),
            Self::Motor(face) => format!("motor {face}"),
            Self::Fixture(i) => {
                scene.file().fixtures.get(*i).map_or(String::new(), |f| f.name.clone())
            }
            Self::Piece => "another piece".to_owned(),
            Self::PictureEdge => "the picture's edge".to_owned(),
        }
    }
}

/// One facelet in one camera.
#[derive(Clone, Debug, PartialEq)]
pub struct FaceletSurvey {
    /// The place.
    pub facelet: Facelet,
    /// Corners of its coloured square in the picture; none where it faces away and only
    /// its rounded rim is seen.
    pub polygon_px: Vec<DVec2>,
    /// Pixels that its colour would fill if nothing stood in front.
    pub whole_px: f64,
    /// Pixels whose centre shows it.
    pub visible_px: usize,
    /// Those of them that show it wherever the mount is within its tolerance.
    pub sure_px: usize,
    /// Whether they are enough to tell a colour, as [`Visibility`] has it.
    pub evidence: bool,
    /// What hides the rest, and the share of the whole that it hides, most first.
    pub hidden_by: Vec<(Hider, f64)>,
    /// Angle between the line of sight to its centre and its normal.
    pub viewing_deg: f64,
    /// Mean illuminance of what is visible: from each lamp in scene order, then from the
    /// room. Light that has bounced is not counted.
    pub illuminance_lux: Vec<f64>,
    /// Share of its visible pixels in which the lamps' mirror light is more than 30 % of
    /// all, for the colour that suffers most.
    pub glare_share: f64,
    /// The lamp that mirrors most light from there into the camera, where any does.
    pub glare_lamp: Option<usize>,
    /// Share of its visible pixels that a white facelet would saturate.
    pub clipped_share: f64,
    /// Mean of a white facelet's fullest channel there, as a share of what saturates.
    pub white_share: f64,
    /// Diameter of the blur at its centre, px; 0 where the camera is sharp everywhere.
    pub blur_px: f64,
    /// Standard deviation of one pixel's brightest channel over its signal, for the
    /// darkest colour.
    pub noise_share: f64,
    /// The two colours that are hardest to tell apart there by who knows the light at this
    /// place; `None` where nothing is visible.
    pub closest: Option<Separability>,
    /// The same distance for all pairs of colours, in the order of [`PAIRS`].
    pub pair_sigmas: Option<[f64; 15]>,
}

impl FaceletSurvey {
    /// Visible share of the whole, 0 to 1.
    #[must_use]
    pub fn visible_share(&self) -> f64 {
        share_of(self.visible_px, self.whole_px)
    }

    /// Illuminance from all lights.
    #[must_use]
    pub fn total_lux(&self) -> f64 {
        self.illuminance_lux.iter().sum()
    }
}

/// One camera.
#[derive(Clone, Debug, PartialEq)]
pub struct CameraSurvey {
    /// Its name.
    pub name: String,
    /// Facelets that face it, in facelet order.
    pub facelets: Vec<FaceletSurvey>,
}

/// All cameras of a scene as drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Survey {
    /// In scene order.
    pub cameras: Vec<CameraSurvey>,
    /// Whether each camera sees enough of a grey patch to balance on.
    pub sees_grey_patch: Vec<bool>,
    /// Which camera reads which facelet, what is hidden, and what mounts may be off by.
    pub visibility: Visibility,
}

impl CameraSurvey {
    /// From the view of a camera of the rig exactly as drawn, at rest.
    #[must_use]
    pub fn of(scene: &Scene, view: &LitView, visibility: &Visibility) -> Self {
        let name = scene.file().cameras[view.camera].name.clone();
        let facelets = survey(scene, &AsBuilt::exactly(scene), view, visibility);
        Self { name, facelets }
    }
}

impl Survey {
    /// Surveys the rig as drawn, at rest.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        let built = AsBuilt::exactly(scene);
        let visibility = Visibility::of(scene);
        // One view at a time: they are large.
        let camera =
            |number| CameraSurvey::of(scene, &LitView::trace(scene, &built, number), &visibility);
        let cameras = (0..scene.file().cameras.len()).map(camera).collect();
        Self::of_cameras(scene, cameras, visibility)
    }

    /// The same from all cameras, in scene order, that are surveyed already.
    #[must_use]
    pub fn of_cameras(scene: &Scene, cameras: Vec<CameraSurvey>, visibility: Visibility) -> Self {
        let size = |c: &Camera| (c.width_px as usize, c.height_px as usize);
        let sees = |(number, camera): (usize, &Camera)| {
            let (width, height) = size(camera);
            !grey_patch(scene, number, width, height).is_empty()
        };
        let sees_grey_patch = scene.file().cameras.iter().enumerate().map(sees).collect();
        Self { cameras, sees_grey_patch, visibility }
    }
}

/// What is added up over the pixels of one facelet.
#[derive(Clone, Default)]
pub(crate) struct Gathered {
    /// Pixels whose centre shows it.
    pub(crate) visible: usize,
    clipped: usize,
    /// By colour.
    glaring: [usize; 6],
    /// Electrons by colour, summed over the visible pixels.
    pub(crate) electrons: [[f64; CHANNELS]; 6],
    lux: Vec<f64>,
    /// The same through the gloss.
    mirrored: Vec<f64>,
    share: f64,
    /// Electrons of a pixel without light.
    pub(crate) dark_e: f64,
}

impl Gathered {
    /// Mean electrons of a pixel for a colour.
    pub(crate) fn mean_e(&self, colour: usize) -> [f64; CHANNELS] {
        self.electrons[colour].map(|sum| sum / self.visible.max(1) as f64)
    }
}

fn survey(
    scene: &Scene,
    built: &AsBuilt,
    view: &LitView,
    visibility: &Visibility,
) -> Vec<FaceletSurvey> {
    let camera = &scene.file().cameras[view.camera];
    let materials = view.sight(scene).materials;
    let gathered = gather(scene, built, view, &materials);
    let facelets: Vec<Facelet> = Facelet::all().collect();
    let one = |&facelet: &Facelet| {
        let found = &gathered[facelet.index()];
        let polygon_px = view.facelet_polygon_px(scene, facelet);
        if polygon_px.is_none() && found.visible == 0 {
            return None;
        }
        let polygon_px = polygon_px.unwrap_or_default();
        let whole_px = area(&polygon_px) * scene.rig().coloured_share();
        let corners = scene.rig().facelet_corners_mm(facelet);
        let centre = corners.iter().sum::<DVec3>() / 4.0;
        let visible = found.visible.max(1) as f64;
        let pair_sigmas = (found.visible > 0).then(|| separability::all(scene, camera, found));
        Some(FaceletSurvey {
            facelet,
            whole_px,
            visible_px: found.visible,
            sure_px: visibility.pixels(view.camera, facelet).len(),
            evidence: visibility.is_evidence(view.camera, facelet),
            hidden_by: hiders(view, &materials, facelet, &polygon_px),
            polygon_px,
            viewing_deg: viewing_deg(view, facelet, centre),
            illuminance_lux: found.lux.iter().map(|lux| lux / found.share.max(1e-9)).collect(),
            glare_lamp: most(&found.mirrored[..view.lamps]),
            glare_share: found.glaring.iter().copied().max().unwrap_or(0) as f64 / visible,
            clipped_share: found.clipped as f64 / visible,
            white_share: white_share(scene, camera, found),
            blur_px: blur_px(camera, view, centre),
            noise_share: noise_share(camera, found),
            closest: pair_sigmas.as_ref().map(separability::closest),
            pair_sigmas,
        })
    };
    facelets.par_iter().filter_map(carried(one)).collect()
}

/// Place of the greatest value above 0, the first of equals.
fn most(values: &[f64]) -> Option<usize> {
    let above = values.iter().enumerate().filter(|(_, v)| **v > 0.0);
    above.max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0))).map(|(i, _)| i)
}

/// Every facelet's pixels, painted in each of the six colours.
fn gather(scene: &Scene, built: &AsBuilt, view: &LitView, materials: &[Material]) -> Vec<Gathered> {
    let file = scene.file();
    let camera = &file.cameras[view.camera];
    let lights = view.lamps + 1;
    let none = vec![0.0; lights];
    let empty = Gathered { lux: none.clone(), mirrored: none, ..Gathered::default() };
    let mut all = vec![empty; Facelet::COUNT];
    let flux = |light: usize| {
        file.lamps.get(light).map_or(file.surroundings.ambient_lux, |lamp| lamp.flux_lm)
    };
    for row in &view.rows {
        for patch in row.patches(lights) {
            let Some(facelet) = patch.material.facelet() else { continue };
            let into = &mut all[facelet.index()];
            into.share += f64::from(patch.share);
            for (light, arrival) in patch.arriving.iter().enumerate() {
                into.lux[light] += f64::from(arrival.diffuse) * flux(light);
                into.mirrored[light] += f64::from(arrival.gloss) * flux(light);
            }
        }
    }
    // A survey has no moment: lamps shine with their mean.
    let shot = Shot { seed: Seed::new(0), name: "survey", trial: 0, second: false };
    let levels = vec![1.0; lights];
    // A camera that chooses its exposure time looks at a solved cube.
    let solved = Stickering::from(&CubeState::SOLVED);
    let exposure_s = view.exposure_s(camera, &Painted::new(view, scene, built, &solved, shot));
    all.iter_mut().for_each(|f| f.dark_e = camera.dark_current_e_per_s * exposure_s);
    for face in Face::ALL {
        let colour = face.index();
        let shown = Stickering([Facelet::new(face, 1, 1); Facelet::COUNT]);
        let painted = Painted::new(view, scene, built, &shown, shot);
        for row in 0..view.height {
            painted.row(row, &levels, |column, light| {
                let Some(facelet) = materials[row * view.width + column].facelet() else { return };
                let into = &mut all[facelet.index()];
                let electrons = light.all.map(|e| e * exposure_s);
                let held = electrons.map(|e| e + camera.dark_current_e_per_s * exposure_s);
                into.visible += usize::from(colour == 0);
                (0..CHANNELS).for_each(|c| into.electrons[colour][c] += electrons[c]);
                let highlight: f64 = light.highlight.iter().sum();
                let glares = highlight > GLARE_SHARE * light.all.iter().sum::<f64>();
                into.glaring[colour] += usize::from(glares);
                let full_e = camera.full_well_e / camera.gain_ratio.max(1.0);
                let white = file.cube.colours.of(face) == dryturn_scene::file::Pigment::White;
                into.clipped += usize::from(white && held.iter().any(|&e| e >= full_e));
            });
        }
    }
    all
}

/// What covers the pixels of a facelet's square that do not show it.
fn hiders(
    view: &LitView,
    materials: &[Material],
    facelet: Facelet,
    polygon: &[DVec2],
) -> Vec<(Hider, f64)> {
    let (low, high) = polygon
        .iter()
        .fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(a, b), p| (a.min(*p), b.max(*p)));
    // A facelet far outside the picture need not be counted pixel by pixel.
    let size = DVec2::new(view.width as f64, view.height as f64);
    let (low, high) = (low.max(-size), high.min(2.0 * size));
    let own = Material::of_facelet(facelet);
    let mut counts: Vec<(Hider, usize)> = Vec::new();
    let mut inside = 0;
    for row in low.y.ceil() as i64..=high.y.floor() as i64 {
        for column in low.x.ceil() as i64..=high.x.floor() as i64 {
            if !contains(polygon, DVec2::new(column as f64, row as f64)) {
                continue;
            }
            inside += 1;
            let at = (usize::try_from(row), usize::try_from(column));
            let hider = match at {
                (Ok(row), Ok(column)) if row < view.height && column < view.width => {
                    match materials[row * view.width + column] {
                        material if material == own || material == Material::BODY => continue,
                        material => Hider::of(material),
                    }
                }
                _ => Hider::PictureEdge,
            };
            match counts.iter_mut().find(|(known, _)| *known == hider) {
                Some((_, count)) => *count += 1,
                None => counts.push((hider, 1)),
            }
        }
    }
    counts.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    counts.into_iter().map(|(hider, n)| (hider, n as f64 / f64::from(inside.max(1)))).collect()
}

/// Whether a point lies in a convex polygon, whichever way round.
fn contains(polygon: &[DVec2], point: DVec2) -> bool {
    let side = |k: usize| {
        let (a, b) = (polygon[k], polygon[(k + 1) % polygon.len()]);
        (b - a).perp_dot(point - a)
    };
    let all = |wanted: fn(f64) -> bool| (0..polygon.len()).all(|k| wanted(side(k)));
    all(|s| s >= 0.0) || all(|s| s <= 0.0)
}

fn viewing_deg(view: &LitView, facelet: Facelet, centre: DVec3) -> f64 {
    let normal = DVec3::from_array(facelet.face().normal().map(f64::from));
    degrees(maths::acos((view.view.pose.position - centre).normalize().dot(normal)))
}

fn blur_px(camera: &Camera, view: &LitView, centre: DVec3) -> f64 {
    if camera.focus_mm == 0.0 {
        return 0.0;
    }
    let distance_mm = view.view.pose.to_camera(centre).z;
    let blur_mm = Aperture::of(camera).blur_mm(camera.focus_mm, distance_mm);
    blur_mm / (camera.pixel_pitch_um * 1e-3)
}

/// How full the fullest channel of a white facelet is.
fn white_share(scene: &Scene, camera: &Camera, found: &Gathered) -> f64 {
    let colours = &scene.file().cube.colours;
    let white =
        Face::ALL.into_iter().find(|&f| colours.of(f) == dryturn_scene::file::Pigment::White);
    let mean_e = white.map_or([0.0; CHANNELS], |face| found.mean_e(face.index()));
    let full_e = camera.full_well_e / camera.gain_ratio.max(1.0);
    (mean_e.into_iter().fold(0.0, f64::max) + found.dark_e) / full_e
}

/// Noise of one pixel over its signal in the brightest channel, for the colour with the
/// worst ratio.
fn noise_share(camera: &Camera, found: &Gathered) -> f64 {
    let read_out = ReadOut::of(camera);
    let share = |colour: usize| {
        let mean_e = found.mean_e(colour).into_iter().fold(0.0, f64::max);
        read_out.noise_codes(mean_e + found.dark_e) / (read_out.codes_per_e * mean_e.max(1e-9))
    };
    (0..6).map(share).fold(0.0, f64::max)
}
