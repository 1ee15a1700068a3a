//! Lamp × pigment × sensor, integrated once: how many electrons a lux makes.

use core::f64::consts::PI;

use dryturn_cube::{Face, Facelet};
use dryturn_scene::file::Camera;
use dryturn_scene::{Material, Scene};

use crate::as_built::{AsBuilt, Sticker};
use crate::camera::sensor::{CHANNELS, collected_energy, electrons_per_joule};
use crate::light::pigment;
use crate::light::spectrum::{Curve, SAMPLES, integrate, lamp_per_lumen, room_per_lumen};

/// Electrons of the three channels.
pub(crate) type Electrons = [f64; CHANNELS];

/// What a material reflects.
#[derive(Clone, Copy)]
pub(crate) enum Paint {
    /// The same at all wavelengths.
    Grey(f64),
    /// The pigment of a face, with the facelet's own factors.
    Pigment(Face, Sticker),
}

/// What each material of a scene reflects, for a cube that shows `shown`.
pub(crate) fn paints(
    scene: &Scene,
    built: &AsBuilt,
    shown: &[Facelet; Facelet::COUNT],
) -> Vec<Paint> {
    let file = scene.file();
    let shaft = |face: Face| file.shafts.iter().find(|shaft| shaft.face.face() == face);
    let paint = |material: Material| {
        if let Some(place) = material.facelet() {
            let sticker = shown[place.index()];
            return Paint::Pigment(sticker.face(), built.stickers[sticker.index()]);
        }
        let rod = material.rod_of().and_then(shaft).map(|s| s.reflectance_share);
        let motor = material.motor_of().and_then(shaft).map(|s| s.motor_reflectance_share);
        let fixture = material.fixture_index().and_then(|i| file.fixtures.get(i));
        let room = file.surroundings.backdrop_reflectance_share;
        Paint::Grey(match material {
            Material::BODY => file.cube.body_reflectance_share,
            Material::BACKDROP => room,
            _ => rod.or(motor).or(fixture.map(|f| f.reflectance_share)).unwrap_or(0.0),
        })
    };
    (0..Material::COUNT).map(|number| paint(Material(number as u8))).collect()
}

/// How strong a light is, the lamps in scene order, the room last: lumens, lux of the room.
#[inline]
pub(crate) fn flux(scene: &Scene, light: usize) -> f64 {
    let file = scene.file();
    file.lamps.get(light).map_or(file.surroundings.ambient_lux, |lamp| lamp.flux_lm)
}

/// Pigments of the six faces, new then worn out.
const PIGMENTS: usize = 12;

/// Electrons per unit of light for one camera. Lights are the lamps in scene order,
/// the room last.
pub(crate) struct LightTable {
    /// `singles[light][pigment]`: electrons for a Lambert surface at one lux.
    singles: Vec<[Electrons; PIGMENTS]>,
    /// The same for light that falls on one pigment and then on another.
    pairs: Vec<[[Electrons; PIGMENTS]; PIGMENTS]>,
    /// For a perfect white: electrons at one lux for a lobe value of 1/sr.
    white: Vec<Electrons>,
    /// Greatest reflectance of each face's pigment: no factor may raise it above 1.
    brightest: [f64; 6],
}

impl LightTable {
    /// For a camera at an exposure time of one second.
    pub(crate) fn new(scene: &Scene, camera: &Camera) -> Self {
        let file = scene.file();
        let energy = collected_energy(camera);
        let sensor = electrons_per_joule(scene, camera);
        let new = Face::ALL.map(|face| pigment::of_scene(scene, file.cube.colours.of(face)));
        let brightest = new.each_ref().map(|curve| curve.iter().copied().fold(1e-6, f64::max));
        let pigments: Vec<Curve> =
            new.iter().copied().chain(new.iter().map(pigment::worn)).collect();
        let flat: Curve = [1.0; SAMPLES];
        let lamps = (0..file.lamps.len()).map(|lamp| lamp_per_lumen(scene, lamp));
        let lights: Vec<Curve> = lamps.chain([room_per_lumen(scene)]).collect();
        let electrons = |light: &Curve, one: &Curve, two: &Curve| -> Electrons {
            core::array::from_fn(|c| energy * integrate([light, one, two, &sensor[c]]))
        };
        let lambert = |e: Electrons| e.map(|e| e / PI);
        let bounce = file.surroundings.bounce;
        Self {
            singles: lights
                .iter()
                .map(|light| {
                    core::array::from_fn(|p| lambert(electrons(light, &pigments[p], &flat)))
                })
                .collect(),
            pairs: lights
                .iter()
                .filter(|_| bounce)
                .map(|light| {
                    core::array::from_fn(|p| {
                        core::array::from_fn(|q| {
                            lambert(electrons(light, &pigments[p], &pigments[q]))
                        })
                    })
                })
                .collect(),
            white: lights.iter().map(|light| electrons(light, &flat, &flat)).collect(),
            brightest,
        }
    }

    fn factor(&self, face: Face, sticker: &Sticker, channel: usize) -> f64 {
        sticker.factor[channel].min(1.0 / self.brightest[face.index()])
    }

    /// Electrons a second per lux of diffuse light from a light on a material.
    pub(crate) fn diffuse(&self, light: usize, paint: &Paint) -> Electrons {
        match paint {
            Paint::Grey(reflectance) => self.white[light].map(|e| e * reflectance / PI),
            Paint::Pigment(face, sticker) => {
                let [new, worn] = [0, 6].map(|k| self.singles[light][face.index() + k]);
                core::array::from_fn(|c| {
                    let mix = new[c] + sticker.wear * (worn[c] - new[c]);
                    mix * self.factor(*face, sticker, c)
                })
            }
        }
    }

    /// The same for light that has first been thrown back by another material.
    pub(crate) fn bounced(&self, light: usize, first: &Paint, paint: &Paint) -> Electrons {
        match (first, paint) {
            (Paint::Grey(reflectance), other) | (other, Paint::Grey(reflectance)) => {
                self.diffuse(light, other).map(|e| e * reflectance)
            }
            (Paint::Pigment(face_a, a), Paint::Pigment(face_b, b)) => {
                let mix = |k: usize, l: usize, c: usize| {
                    self.pairs[light][face_a.index() + k][face_b.index() + l][c]
                };
                core::array::from_fn(|c| {
                    let new_a = mix(0, 0, c) + b.wear * (mix(0, 6, c) - mix(0, 0, c));
                    let worn_a = mix(6, 0, c) + b.wear * (mix(6, 6, c) - mix(6, 0, c));
                    (new_a + a.wear * (worn_a - new_a))
                        * self.factor(*face_a, a, c)
                        * self.factor(*face_b, b, c)
                })
            }
        }
    }

    /// Electrons a second per lux from a light for a gloss lobe of value 1/sr.
    pub(crate) fn gloss(&self, light: usize) -> Electrons {
        self.white[light]
    }
}
