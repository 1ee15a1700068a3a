//! Lamp × pigment × sensor, integrated once: how many electrons a lux makes.

use dryturn_cube::{Face, Facelet};
use dryturn_scene::Scene;
use dryturn_scene::file::{Camera, Spectrum};

use crate::pigment;
use crate::sensor::{CHANNELS, collected_energy, electrons_per_joule};
use crate::spectrum::{Curve, SAMPLES, integrate, per_lumen};

/// Number of materials: 54 places, body, rod, motor, backdrop.
pub(crate) const MATERIALS: usize = Facelet::COUNT + 4;
pub(crate) const BODY: u8 = 54;
pub(crate) const ROD: u8 = 55;
pub(crate) const MOTOR: u8 = 56;
pub(crate) const BACKDROP: u8 = 57;

/// Electrons per unit of light for one camera. `lamps` come in scene order, the
/// room's even light last.
pub(crate) struct LightTable {
    /// `pigments[lamp][face]`: electrons for a Lambert surface of that face's
    /// pigment at one lux.
    pigments: Vec<[[f64; CHANNELS]; 6]>,
    /// The same for grey of reflectance 1, in 1/sr units for a mirror lobe:
    /// electrons at one lux for a lobe value of 1/sr.
    white: Vec<[f64; CHANNELS]>,
    backdrop_reflectance: f64,
}

impl LightTable {
    pub(crate) fn new(scene: &Scene, camera: &Camera) -> Self {
        let file = scene.file();
        let energy = collected_energy(camera);
        let sensor = electrons_per_joule();
        let curves = Face::ALL.map(|face| pigment::reflectance(file.cube.colours.of(face)));
        let flat: Curve = [1.0; SAMPLES];
        let lights = file
            .lamps
            .iter()
            .map(|lamp| (lamp.spectrum, lamp.cct_k))
            .chain([(file.surroundings.ambient_spectrum, file.surroundings.ambient_cct_k)]);
        let (mut pigments, mut white) = (Vec::new(), Vec::new());
        for (kind, cct_k) in lights {
            let electrons = |kind: Spectrum, surface: &Curve| {
                let lamp = per_lumen(kind, cct_k);
                core::array::from_fn(|c| energy * integrate([&lamp, surface, &sensor[c]]))
            };
            pigments.push(curves.each_ref().map(|surface| {
                let all: [f64; CHANNELS] = electrons(kind, surface);
                all.map(|e| e / core::f64::consts::PI)
            }));
            white.push(electrons(kind, &flat));
        }
        let backdrop_reflectance = file.surroundings.backdrop_reflectance_share;
        Self { pigments, white, backdrop_reflectance }
    }

    /// Electrons per lux of diffuse light from lamp `lamp` on a material, given
    /// the sticker shown at each place and the stickers' own factors.
    pub(crate) fn diffuse(
        &self,
        lamp: usize,
        material: u8,
        shown: &[Facelet; Facelet::COUNT],
        sticker_factor: &[[f64; CHANNELS]; Facelet::COUNT],
    ) -> [f64; CHANNELS] {
        let grey =
            |reflectance: f64| self.white[lamp].map(|e| e * reflectance / core::f64::consts::PI);
        match material {
            BODY => grey(pigment::BODY),
            ROD => grey(pigment::ROD),
            MOTOR => grey(pigment::MOTOR),
            BACKDROP => grey(self.backdrop_reflectance),
            place => {
                let sticker = shown[usize::from(place)];
                let factor = sticker_factor[sticker.index()];
                let pigment = self.pigments[lamp][sticker.face().index()];
                core::array::from_fn(|c| pigment[c] * factor[c])
            }
        }
    }

    /// Electrons per lux from lamp `lamp` for a gloss lobe of value 1/sr.
    pub(crate) fn gloss(&self, lamp: usize) -> [f64; CHANNELS] {
        self.white[lamp]
    }
}
