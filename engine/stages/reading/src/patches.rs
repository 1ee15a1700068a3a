//! Which pixels show which facelet, by the drawing alone.

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_handoff::Frame;
use dryturn_scene::file::{Camera, Colours, FixtureUse, Pigment, Reader};
use dryturn_scene::{Material, Rig, Scene, View};
use dryturn_units::colour::{EncodedRgb8, LinearRgb};
use dryturn_units::radians;
use thiserror::Error;

use crate::alignment::{Aligned, Points, align, pixel_of};
use crate::appearance::Rendering;
use crate::calibration::LampNote;
use crate::edges::{Border, borders};
use crate::samples::{Sample, statistics};

/// Fewest usable pixels for a facelet to count as seen.
const MIN_PIXELS: usize = 40;
/// Smallest usable share of a facelet's picture, had nothing been in the way
/// and nothing been left out at its rim.
const MIN_SHARE: f64 = 0.06;
/// How many standard deviations of the mount's tolerance are left out at rims.
const MARGIN_SIGMAS: f64 = 2.0;

/// Points of a facelet that are sampled, and that are looked at to find the mount.
const SAMPLED_POINTS: usize = 400;
const SOUGHT_POINTS: usize = 60;

/// A code that is neither a facelet's nor another surface's: the grey patch.
const GREY: u8 = 200;

/// Frames that do not fit the scene.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FrameError {
    /// One frame per camera is needed, or several such sets.
    #[error(
        "{found} pictures: the scene has {wanted} cameras and needs one picture of each, or several \
         such sets one after the other"
    )]
    Count {
        /// Frames given.
        found: usize,
        /// Cameras in the scene.
        wanted: usize,
    },
    /// A frame of another size than its camera's.
    #[error(
        "the picture of camera {camera} is {found_width} × {found_height}: it must be {width} × \
         {height} as in the scene"
    )]
    Size {
        /// The camera's name.
        camera: String,
        /// The frame's width.
        found_width: usize,
        /// The frame's height.
        found_height: usize,
        /// The camera's width.
        width: usize,
        /// The camera's height.
        height: usize,
    },
}

/// A facelet's usable pixels in the camera that sees it best.
struct Patch {
    camera: usize,
    pixels: Vec<u32>,
    /// Some of the pixels as points of the facelet, for when the camera stands elsewhere.
    points: Points,
}

/// Where the cameras stand when a scan is sampled.
pub(crate) enum Standing {
    /// As drawn.
    Drawn,
    /// By their pictures, in the scene's order.
    At(Vec<Aligned>),
}

struct CameraFacts {
    view: View,
    /// Points all over the facelets that it sees, for finding where it stands.
    facelets: Vec<Points>,
    /// Places on their rims, to find it more exactly.
    borders: Vec<Border>,
    name: String,
    width: usize,
    height: usize,
    /// Pixels that show a grey patch.
    grey: Vec<usize>,
    /// The code that each channel has when the sensor is saturated.
    ceiling: [u8; 3],
    rendering: Rendering,
}

impl CameraFacts {
    fn of(
        camera: &Camera,
        view: &View,
        (facelets, borders): (Vec<Points>, Vec<Border>),
        grey: Vec<usize>,
    ) -> Self {
        Self {
            view: *view,
            facelets,
            borders,
            grey,
            name: camera.name.clone(),
            width: camera.width_px as usize,
            height: camera.height_px as usize,
            ceiling: LinearRgb(camera.saturated_linear()).encode().0,
            rendering: Rendering::of(camera),
        }
    }
}

/// The patches of all facelets that are to be read.
pub struct Patches {
    /// By facelet index; `None` for centres and for what no camera sees.
    patches: Vec<Option<Patch>>,
    cameras: Vec<CameraFacts>,
    colours: Colours,
    reader: Reader,
    name: String,
    lamps: Vec<LampNote>,
}

impl Patches {
    /// Finds the patches from the nominal scene: facelets as drawn, less what
    /// the drawn shafts hide, less a rim for the mount's tolerance.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        let mut patches: Vec<Option<Patch>> = (0..Facelet::COUNT).map(|_| None).collect();
        let mut cameras = Vec::new();
        let file = scene.file();
        for (camera, settings) in file.cameras.iter().enumerate() {
            let (width, height) = (settings.width_px as usize, settings.height_px as usize);
            let labels = nominal_labels(scene, camera, width, height);
            let usable = erode(&labels, width, height, rim_px(scene, camera));
            let mut found = by_facelet(&usable);
            let whole = by_facelet(&labels);
            let seen = Rig::facelets_to_read().map(|f| (f, &whole[f.index()]));
            let seen = seen.filter(|(_, pixels)| pixels.len() >= MIN_PIXELS);
            let facelets =
                seen.map(|(f, pixels)| points(scene, camera, f, pixels, SOUGHT_POINTS)).collect();
            let grey = (0..usable.len()).filter(|&pixel| usable[pixel] == GREY).collect();
            let borders = borders(scene, camera, &labels);
            let seen = (facelets, borders);
            cameras.push(CameraFacts::of(settings, &scene.views()[camera], seen, grey));
            let wanted = |facelet: &Facelet| {
                facelet.kind() != FaceletKind::Centre || !file.reader.mounting_known
            };
            for facelet in Facelet::all().filter(wanted) {
                let pixels = std::mem::take(&mut found[facelet.index()]);
                let enough = MIN_PIXELS.max((MIN_SHARE * area_px(scene, camera, facelet)) as usize);
                let best = &mut patches[facelet.index()];
                let known = best.as_ref().map_or(0, |patch| patch.pixels.len());
                if pixels.len() >= enough && pixels.len() > known {
                    let points = points(scene, camera, facelet, &pixels, SAMPLED_POINTS);
                    *best = Some(Patch { camera, pixels, points });
                }
            }
        }
        let (colours, reader) = (file.cube.colours.clone(), file.reader.clone());
        let lamps = file.lamps.iter().map(LampNote::of).collect();
        Self { patches, cameras, colours, reader, name: file.name.clone(), lamps }
    }

    /// How the scene wants its pictures read.
    pub(crate) fn reader(&self) -> &Reader {
        &self.reader
    }

    /// The scene's name, and its lamps.
    pub(crate) fn light(&self) -> (&str, &[LampNote]) {
        (&self.name, &self.lamps)
    }

    /// The pigment of a face.
    pub(crate) fn pigment(&self, face: Face) -> Pigment {
        self.colours.of(face)
    }

    /// What a person calls the colour of a face, for instance `red`.
    #[must_use]
    pub fn colour_name(&self, face: Face) -> String {
        format!("{:?}", self.colours.of(face)).to_lowercase()
    }

    /// Index of the camera that reads a facelet; `None` if it is hidden from all.
    #[must_use]
    pub fn camera_of(&self, facelet: Facelet) -> Option<usize> {
        self.patches[facelet.index()].as_ref().map(|patch| patch.camera)
    }

    /// The camera that reads a facelet, by number, and the pixels that it is read from, `row ·
    /// width + column`; `None` if it is hidden from all.
    #[must_use]
    pub fn pixels_of(&self, facelet: Facelet) -> Option<(usize, &[u32])> {
        self.patches[facelet.index()].as_ref().map(|patch| (patch.camera, &patch.pixels[..]))
    }

    /// A camera's name.
    pub(crate) fn camera_name(&self, camera: usize) -> &str {
        &self.cameras[camera].name
    }

    /// What a camera makes of light.
    pub(crate) fn rendering(&self, camera: usize) -> &Rendering {
        &self.cameras[camera].rendering
    }

    /// Whether no camera sees any centre.
    pub(crate) fn centres_hidden(&self) -> bool {
        let centres = Face::ALL.map(|face| Facelet::new(face, 1, 1));
        centres.into_iter().all(|centre| self.camera_of(centre).is_none())
    }

    /// Facelets to be read that no camera sees, in facelet order.
    #[must_use]
    pub fn hidden(&self) -> Vec<Facelet> {
        Rig::facelets_to_read().filter(|f| self.camera_of(*f).is_none()).collect()
    }

    /// Whether the frames are one of each camera, of the right size.
    ///
    /// # Errors
    /// The first frame that does not fit.
    pub fn check(&self, frames: &[Frame]) -> Result<(), FrameError> {
        let wanted = self.cameras.len();
        if frames.is_empty() || !frames.len().is_multiple_of(wanted) {
            return Err(FrameError::Count { found: frames.len(), wanted });
        }
        for (frame, camera) in frames.iter().zip(self.cameras.iter().cycle()) {
            let (width, height) = (camera.width, camera.height);
            let fits = frame.width == width && frame.height == height;
            if !fits || frame.pixels.len() != 3 * width * height {
                return Err(FrameError::Size {
                    camera: camera.name.clone(),
                    found_width: frame.width,
                    found_height: frame.height,
                    width,
                    height,
                });
            }
        }
        Ok(())
    }

    /// How many cameras there are.
    pub(crate) fn camera_count(&self) -> usize {
        self.cameras.len()
    }

    /// Where the cameras stand by frames that have passed [`Patches::check`].
    pub(crate) fn standing(&self, frames: &[Frame]) -> Standing {
        let at = |(camera, frame): (&CameraFacts, &Frame)| {
            align(&camera.view, frame, &camera.facelets, &camera.borders)
        };
        if self.reader.find_mounts {
            Standing::At(self.cameras.iter().zip(frames).map(at).collect())
        } else {
            Standing::Drawn
        }
    }

    /// What a facelet's patch shows; `None` if it is hidden. The frames must be one of each
    /// camera and have passed [`Patches::check`].
    pub(crate) fn sample(
        &self,
        frames: &[Frame],
        standing: &Standing,
        facelet: Facelet,
    ) -> Option<Sample> {
        let patch = self.patches[facelet.index()].as_ref()?;
        let CameraFacts { ceiling, view, width, height, .. } = &self.cameras[patch.camera];
        let pixels: Vec<usize> = match standing {
            Standing::Drawn => patch.pixels.iter().map(|&pixel| pixel as usize).collect(),
            Standing::At(aligned) => {
                let pose = &aligned[patch.camera].pose;
                let at = |point: &DVec3| pixel_of(view, pose, (*width, *height), *point);
                patch.points.iter().filter_map(at).collect()
            }
        };
        statistics(&frames[patch.camera], &pixels, ceiling)
            .map(|found| Sample { camera: patch.camera, ..found })
    }

    /// How the grey patch looks to a camera; `None` where it sees none.
    pub(crate) fn grey(&self, frames: &[Frame], camera: usize) -> Option<EncodedRgb8> {
        let CameraFacts { grey, ceiling, .. } = &self.cameras[camera];
        let found = statistics(&frames[camera], grey, ceiling)?;
        (grey.len() >= MIN_PIXELS && found.saturated_share < 0.5).then_some(found.median)
    }
}

/// Pixels by the facelet that they show.
fn by_facelet(labels: &[u8]) -> Vec<Vec<u32>> {
    let mut found: Vec<Vec<u32>> = vec![Vec::new(); Facelet::COUNT];
    for (pixel, &code) in labels.iter().enumerate() {
        if let Some(pixels) = found.get_mut(usize::from(code)) {
            pixels.push(pixel as u32);
        }
    }
    found
}

/// Where the rays of some of a facelet's pixels meet its plane, mm.
fn points(scene: &Scene, camera: usize, facelet: Facelet, pixels: &[u32], most: usize) -> Points {
    let view = &scene.views()[camera];
    let width = scene.file().cameras[camera].width_px;
    let corner = scene.rig().facelet_corners_mm(facelet)[0];
    let normal = DVec3::from_array(facelet.face().normal().map(f64::from));
    let height = (corner - view.pose.position).dot(normal);
    let count = pixels.len().min(most);
    let point = |k: usize| {
        let pixel = pixels[k * pixels.len() / count];
        let at = DVec2::new(f64::from(pixel % width), f64::from(pixel / width));
        let direction = view.direction(at)?;
        Some(view.pose.position + direction * (height / direction.dot(normal)))
    };
    (0..count).filter_map(point).collect()
}

fn nominal_labels(scene: &Scene, camera: usize, width: usize, height: usize) -> Vec<u8> {
    let sight = scene.rig().sight(&scene.views()[camera], width, height);
    let fixtures = &scene.file().fixtures;
    let is_grey = |material: &Material| {
        let fixture = material.fixture_index().and_then(|i| fixtures.get(i));
        fixture.is_some_and(|fixture| fixture.role == FixtureUse::GreyPatch)
    };
    let code = |m: &Material| if is_grey(m) { GREY } else { m.surface().code() };
    sight.materials.iter().map(code).collect()
}

/// Pixels by which the picture may be shifted against the drawing.
fn rim_px(scene: &Scene, camera: usize) -> usize {
    let view = &scene.views()[camera];
    let tolerances = &scene.file().tolerances;
    let focal = view.lens.focal_px.x;
    let turn = focal * radians(tolerances.mount_turn_sigma_deg);
    let cube_reach = scene.file().cube.edge_mm / 2.0 * 3.0f64.sqrt();
    let nearest_mm = (view.pose.position.length() - cube_reach).max(1.0);
    let shift = focal * tolerances.mount_shift_sigma_mm / nearest_mm;
    (MARGIN_SIGMAS * (turn * turn + shift * shift).sqrt()).ceil() as usize + 1
}

/// Keeps a label only where all pixels within `reach` rows and columns have it;
/// elsewhere, and at the picture's rim, puts a code that is no facelet.
fn erode(labels: &[u8], width: usize, height: usize, reach: usize) -> Vec<u8> {
    const MIXED: u8 = u8::MAX;
    let pass = |from: &[u8], length: usize, lines: usize, at: &dyn Fn(usize, usize) -> usize| {
        let mut to = vec![MIXED; from.len()];
        for line in 0..lines {
            let mut run_start = 0;
            for end in 1..=length {
                let code = from[at(line, run_start)];
                if end == length || from[at(line, end)] != code {
                    for k in run_start + reach..end.saturating_sub(reach) {
                        to[at(line, k)] = code;
                    }
                    run_start = end;
                }
            }
        }
        to
    };
    let across = pass(labels, width, height, &|row, column| row * width + column);
    pass(&across, height, width, &|column, row| row * width + column)
}

/// Area of a facelet's square in the picture, px², as if nothing hid it; 0 if it
/// is not in front of the camera.
fn area_px(scene: &Scene, camera: usize, facelet: Facelet) -> f64 {
    let view = &scene.views()[camera];
    let corners = scene.rig().facelet_corners_mm(facelet).map(|corner| view.project(corner));
    let [Some(a), Some(b), Some(c), Some(d)] = corners else {
        return 0.0;
    };
    ((c - a).perp_dot(d - b) / 2.0).abs()
}
