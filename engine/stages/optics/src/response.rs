//! What a camera makes of a light and of the cube's pigments, without geometry.

use dryturn_cube::Face;
use dryturn_scene::Scene;

use crate::as_built::Sticker;
use crate::camera::sensor::{CHANNELS, ReadOut};
use crate::picture::{LightTable, Paint};

/// Answer of one camera to one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Response {
    /// Full scale per second for a radiance of 1 lx/sr, red, green, blue, before white
    /// balance.
    pub full_scale_per_s: [f64; CHANNELS],
    /// Reflectance of each face's pigment as the channels weigh it, with the cube's own
    /// wear.
    pub pigments: [[f64; CHANNELS]; 6],
}

impl Response {
    /// Of camera number `camera` to light number `light`: the lamps in scene order, then
    /// the room.
    ///
    /// # Panics
    /// If the scene has no such camera or light.
    #[must_use]
    pub fn of(scene: &Scene, camera: usize, light: usize) -> Self {
        let settings = &scene.file().cameras[camera];
        let table = LightTable::new(scene, settings);
        let read_out = ReadOut::of(settings);
        let full_e = (read_out.highest_code - read_out.black_code) / read_out.codes_per_e;
        let white = table.diffuse(light, &Paint::Grey(1.0));
        let sticker = Sticker { factor: [1.0; CHANNELS], wear: scene.file().cube.wear_share };
        let pigment = |face: Face| {
            let own = table.diffuse(light, &Paint::Pigment(face, sticker));
            core::array::from_fn(|c| own[c] / white[c])
        };
        Self {
            full_scale_per_s: table.gloss(light).map(|e| e / full_e),
            pigments: Face::ALL.map(pigment),
        }
    }
}
