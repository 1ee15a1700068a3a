//! Which facelet each camera sees, how large, how lit, how clearly: for choosing where
//! cameras and lamps go.

mod gathered;
mod hiders;
mod looks;
mod places;
mod separability;
mod tolerance;

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_scene::file::{Camera, Pigment};
use dryturn_scene::{Scene, Visibility};
use dryturn_units::degrees;
use dryturn_units::maths;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use self::gathered::{Gathered, gather};
use self::hiders::hiders;
use crate::as_built::AsBuilt;
use crate::camera::sensor::{Aperture, CHANNELS, ReadOut, saturating_e};
use crate::lit_view::LitView;
use crate::picture::{grey_patch, share_of};

pub use hiders::Hider;
pub use looks::Looks;
pub use places::LookedAt;
pub use separability::{PAIRS, Separability, sigmas_between};
pub use tolerance::{Losses, losses};

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
        let sees = |camera| !grey_patch(scene, camera).is_empty();
        let sees_grey_patch = (0..scene.file().cameras.len()).map(sees).collect();
        Self { cameras, sees_grey_patch, visibility }
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
        let (polygon_px, whole_px) = view.outline_px(scene, facelet, found.visible)?;
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
    let white = Face::ALL.into_iter().find(|&f| colours.of(f) == Pigment::White);
    let mean_e = white.map_or([0.0; CHANNELS], |face| found.mean_e(face.index()));
    (mean_e.into_iter().fold(0.0, f64::max) + found.dark_e) / saturating_e(camera)
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
