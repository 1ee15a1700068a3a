//! A scene with the light on it, looked at in pictures of few pixels.

use dryturn_cube::FaceletKind;
use dryturn_optics::survey::{FaceletSurvey, Survey};
use dryturn_scene::file::Camera;
use dryturn_scene::{Scene, Visibility};

/// Width of the pictures that light is looked at in.
const SMALL_PX: u32 = 160;

/// A scene with the light on it.
pub(super) struct Lit<'a> {
    pub(super) scene: &'a Scene,
    pub(super) visibility: &'a Visibility,
    pub(super) survey: Survey,
}

impl<'a> Lit<'a> {
    pub(super) fn of(scene: &'a Scene, visibility: &'a Visibility) -> Self {
        let survey = Survey::of(small(scene).as_ref().unwrap_or(scene));
        Self { scene, visibility, survey }
    }

    /// Facelets that a camera has evidence of, centres left out, as they are lit.
    pub(super) fn read(&self, camera: usize) -> Vec<&FaceletSurvey> {
        let read = |f: &&FaceletSurvey| {
            f.facelet.kind() != FaceletKind::Centre
                && f.visible_px > 0
                && self.visibility.is_evidence(camera, f.facelet)
        };
        self.survey.cameras[camera].facelets.iter().filter(read).collect()
    }

    /// Mean illuminance of what a camera reads: from each lamp, then from the room.
    pub(super) fn mean_lux(&self, camera: usize) -> Vec<f64> {
        let read = self.read(camera);
        let lights = self.scene.file().lamps.len() + 1;
        let sum = |light: usize| read.iter().map(|f| f.illuminance_lux[light]).sum::<f64>();
        (0..lights).map(|light| sum(light) / read.len().max(1) as f64).collect()
    }

    pub(super) fn field(&self, camera: usize, name: &str) -> String {
        format!("cameras.{}.{name}", self.scene.file().cameras[camera].name)
    }
}

/// The same scene with fewer, larger pixels and fewer rays; `None` where a sensor at the end
/// of its ranges has no larger pixels.
fn small(scene: &Scene) -> Option<Scene> {
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        let width_px = camera.width_px.min(SMALL_PX);
        let height_px = (camera.height_px * width_px / camera.width_px).max(64);
        *camera = Camera { samples_px: camera.samples_px.min(4), ..camera.clone() }
            .with_pixels([width_px, height_px]);
    }
    scene.with_file(file).ok()
}
