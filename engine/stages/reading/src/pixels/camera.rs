//! What is known of a camera before its pictures are looked at.

use dryturn_scene::View;
use dryturn_scene::file::Camera;
use dryturn_units::colour::LinearRgb;

use super::alignment::Points;
use super::edges::Border;
use crate::rendering::Rendering;

/// What is known of a camera by the drawing.
pub(super) struct CameraFacts {
    pub(super) view: View,
    /// Points all over the facelets that it sees, for finding where it stands.
    pub(super) facelets: Vec<Points>,
    /// Places on their rims, to find it more exactly.
    pub(super) borders: Vec<Border>,
    pub(super) name: String,
    pub(super) width: usize,
    pub(super) height: usize,
    /// Pixels that show a grey patch.
    pub(super) grey: Vec<usize>,
    /// The code that each channel has when the sensor is saturated.
    pub(super) ceiling: [u8; 3],
    /// What it makes of light in its first picture.
    pub(super) first: Rendering,
    /// The same in the one picture that is read, made of two where it takes two.
    pub(super) rendering: Rendering,
}

impl CameraFacts {
    pub(super) fn of(
        camera: &Camera,
        view: &View,
        (facelets, borders): (Vec<Points>, Vec<Border>),
        grey: Vec<usize>,
    ) -> Self {
        let first = Rendering::of(camera);
        Self {
            view: *view,
            facelets,
            borders,
            grey,
            name: camera.name.clone(),
            width: camera.width_px as usize,
            height: camera.height_px as usize,
            ceiling: LinearRgb(camera.saturated_linear()).encode().0,
            first,
            rendering: first.darker(camera.bracket_share),
        }
    }

    /// Whether it takes a second, darker picture.
    pub(super) fn takes_two(&self) -> bool {
        self.rendering.share < 1.0
    }
}
