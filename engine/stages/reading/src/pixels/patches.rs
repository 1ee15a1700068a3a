//! Which pixels show which facelet, by the drawing alone.

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_handoff::Frame;
use dryturn_scene::file::{Camera, Colours, Lamp, Pigment, Reader};
use dryturn_scene::{Rig, Scene, Visibility};
use dryturn_units::colour::EncodedRgb8;

use super::alignment::{Aligned, Points, align, pixel_of};
use super::camera::CameraFacts;
use super::edges::borders;
use super::shown::{Pixels, statistics};
use crate::rendering::Rendering;

/// Points of a facelet that are sampled, and that are looked at to find the mount.
const SAMPLED_POINTS: usize = 400;
const SOUGHT_POINTS: usize = 60;

/// A facelet's usable pixels in a camera that sees enough of it.
struct Patch {
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

/// The patches of all facelets that are to be read.
pub struct Patches {
    /// By camera and facelet index; `None` where it does not see enough, and for centres that
    /// are known.
    patches: Vec<Vec<Option<Patch>>>,
    /// By facelet index: the camera that sees most of it.
    best: Vec<Option<usize>>,
    cameras: Vec<CameraFacts>,
    colours: Colours,
    reader: Reader,
    name: String,
    lamps: Vec<Lamp>,
    /// By facelet index: shares of each lamp and of the room in its light, as drawn.
    shares: Vec<Vec<f64>>,
}

impl Patches {
    /// Finds the patches from the nominal scene: facelets as drawn, less what
    /// the drawn shafts hide, less a rim for the mount's tolerance, as [`Visibility`] has it.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        let file = scene.file();
        let visibility = Visibility::of(scene);
        let facts = |(camera, settings): (usize, &Camera)| {
            let codes = visibility.codes(camera);
            let whole = by_facelet(codes);
            let seen = Rig::facelets_to_read().map(|f| (f, &whole[f.index()]));
            let seen = seen.filter(|(_, pixels)| pixels.len() >= Visibility::LEAST_PX);
            let facelets =
                seen.map(|(f, pixels)| points(scene, camera, f, pixels, SOUGHT_POINTS)).collect();
            let grey = visibility.grey_pixels(camera).iter().map(|&pixel| pixel as usize).collect();
            let seen = (facelets, borders(scene, camera, codes));
            CameraFacts::of(settings, &scene.views()[camera], seen, grey)
        };
        let cameras = file.cameras.iter().enumerate().map(facts).collect();
        // Covered centres are known where the mounting is.
        let wanted = |facelet: &Facelet| {
            facelet.kind() != FaceletKind::Centre || !file.reader.mounting_known
        };
        let patch = |camera: usize, facelet: Facelet| {
            let seen = wanted(&facelet) && visibility.is_evidence(camera, facelet);
            seen.then(|| {
                let pixels = visibility.pixels(camera, facelet).to_vec();
                let points = points(scene, camera, facelet, &pixels, SAMPLED_POINTS);
                Patch { pixels, points }
            })
        };
        let of_camera = |camera: usize| Facelet::all().map(|f| patch(camera, f)).collect();
        let patches = (0..file.cameras.len()).map(of_camera).collect();
        let best = |f: Facelet| wanted(&f).then(|| visibility.camera_of(f)).flatten();
        let best = Facelet::all().map(best).collect();
        let (colours, reader) = (file.cube.colours.clone(), file.reader.clone());
        let shares =
            Facelet::all().map(|facelet| shares(&scene.illuminance_lux(facelet))).collect();
        let (name, lamps) = (file.name.clone(), file.lamps.clone());
        Self { patches, best, cameras, colours, reader, name, lamps, shares }
    }

    /// How the scene wants its pictures read.
    pub(crate) fn reader(&self) -> &Reader {
        &self.reader
    }

    /// The scene's name, and its lamps.
    pub(crate) fn light(&self) -> (&str, &[Lamp]) {
        (&self.name, &self.lamps)
    }

    /// By facelet index: shares of each lamp and of the room in its light, as drawn.
    pub(crate) fn shares(&self) -> &[Vec<f64>] {
        &self.shares
    }

    /// The pigment of a face.
    pub(crate) fn pigment(&self, face: Face) -> Pigment {
        self.colours.of(face)
    }

    /// The pigments of all faces, in the order U R F D L B.
    pub(crate) fn pigments(&self) -> [Pigment; 6] {
        Face::ALL.map(|face| self.pigment(face))
    }

    /// The face that has a pigment, the first of several.
    pub(crate) fn face_of(&self, pigment: Pigment) -> Option<Face> {
        Face::ALL.into_iter().find(|&face| self.pigment(face) == pigment)
    }

    /// What a person calls the colour of a face, for instance `red`.
    #[must_use]
    pub fn colour_name(&self, face: Face) -> String {
        format!("{:?}", self.colours.of(face)).to_lowercase()
    }

    /// Index of the camera that sees most of a facelet; `None` if it is hidden from all.
    #[must_use]
    pub fn camera_of(&self, facelet: Facelet) -> Option<usize> {
        self.best[facelet.index()]
    }

    /// The camera that sees most of a facelet, by number, and the pixels that it is read from
    /// there, `row · width + column`; `None` if it is hidden from all.
    #[must_use]
    pub fn pixels_of(&self, facelet: Facelet) -> Option<(usize, &[u32])> {
        let camera = self.camera_of(facelet)?;
        Some((camera, &self.patch(camera, facelet)?.pixels[..]))
    }

    fn patch(&self, camera: usize, facelet: Facelet) -> Option<&Patch> {
        self.patches[camera][facelet.index()].as_ref()
    }

    /// Whether a camera sees enough of a facelet that is to be read.
    pub(crate) fn sees(&self, camera: usize, facelet: Facelet) -> bool {
        self.patch(camera, facelet).is_some()
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

    /// What is known of each camera.
    pub(super) fn cameras(&self) -> &[CameraFacts] {
        &self.cameras
    }

    /// How many cameras there are.
    pub(crate) fn camera_count(&self) -> usize {
        self.cameras.len()
    }

    /// Where the cameras stand by a frame of each, as [`Patches::one_each`] has them.
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

    /// The pixels of a facelet in a camera, where it stands; `None` if it does not see enough of
    /// it.
    pub(crate) fn pixels(
        &self,
        standing: &Standing,
        camera: usize,
        facelet: Facelet,
    ) -> Option<Vec<usize>> {
        let patch = self.patch(camera, facelet)?;
        let CameraFacts { view, width, height, .. } = &self.cameras[camera];
        Some(match standing {
            Standing::Drawn => patch.pixels.iter().map(|&pixel| pixel as usize).collect(),
            Standing::At(aligned) => {
                let pose = &aligned[camera].pose;
                let at = |point: &DVec3| pixel_of(view, pose, (*width, *height), *point);
                patch.points.iter().filter_map(at).collect()
            }
        })
    }

    /// What pixels of a camera show together; frames as [`Patches::one_each`] has them.
    pub(crate) fn shown(
        &self,
        frames: &[Frame],
        camera: usize,
        pixels: &[usize],
    ) -> Option<Pixels> {
        statistics(&frames[camera], pixels, &self.cameras[camera].ceiling)
    }

    /// How the grey patch looks to a camera; `None` where it sees none.
    pub(crate) fn grey(&self, frames: &[Frame], camera: usize) -> Option<EncodedRgb8> {
        let CameraFacts { grey, ceiling, .. } = &self.cameras[camera];
        let found = statistics(&frames[camera], grey, ceiling)?;
        (grey.len() >= Visibility::LEAST_PX && found.saturated_share < 0.5).then_some(found.median)
    }
}

/// Shares of lights in their sum, to a ten-thousandth; equal ones where there is none.
fn shares(lux: &[f64]) -> Vec<f64> {
    let all: f64 = lux.iter().sum();
    let share = |own: &f64| if all > 0.0 { own / all } else { 1.0 / lux.len() as f64 };
    lux.iter().map(|own| (1e4 * share(own)).round() * 1e-4).collect()
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
