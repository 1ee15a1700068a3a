//! How facelets of the rig as drawn would look with any stickers: the light that arrives
//! is gathered once, and painted without tracing anything again.

use core::f64::consts::FRAC_PI_2;

use dryturn_cube::{Facelet, Stickering};
use dryturn_scene::file::{Camera, WhiteBalance};
use dryturn_scene::{Material, Scene};
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::noise::Noise;

use super::gathered::no_moment;
use super::places::{Arrived, LookedAt, Place, places};
use super::separability::measured;
use crate::as_built::AsBuilt;
use crate::camera::sensor::{CHANNELS, ReadOut};
use crate::lit_view::LitView;
use crate::picture::{Electrons, LightTable, Paint, encode, flux, mixed, paints};

/// What a camera is set to for a picture.
#[derive(Clone, Copy)]
struct Setting {
    exposure_s: f64,
    balance: [f64; 2],
}

struct CameraLooks {
    number: usize,
    table: LightTable,
    places: Vec<Place>,
    /// For each picture in turn.
    settings: Vec<Setting>,
}

/// Facelets of the rig as drawn in the light of its scene, for pictures of cubes that show
/// given stickers.
///
/// Left out: flicker (lamps shine with their mean), mounts that are off, what JPEG does.
pub struct Looks<'a> {
    scene: &'a Scene,
    shown: Vec<Stickering>,
    cameras: Vec<CameraLooks>,
}

impl<'a> Looks<'a> {
    /// For pictures of cubes that show each of `shown`, of no camera as yet.
    #[must_use]
    pub fn new(scene: &'a Scene, shown: &[Stickering]) -> Self {
        Self { scene, shown: shown.to_vec(), cameras: Vec::new() }
    }

    /// Gathers the light on some facelets in the view of a camera of the rig as drawn: those
    /// of them that are looked at in it. A camera that chooses its exposure time or its
    /// balance does so for each picture of the rig as drawn.
    pub fn add(&mut self, view: &LitView, looked_at: &[LookedAt<'_>]) {
        let camera = &self.scene.file().cameras[view.camera];
        let table = LightTable::new(self.scene, camera);
        let own = looked_at.iter().filter(|look| look.camera == view.camera);
        let places = places(self.scene, view, &table, own);
        let settings = settings(self.scene, view, &self.shown);
        self.cameras.push(CameraLooks { number: view.camera, table, places, settings });
    }

    /// How each facelet looks in picture number `picture` of those that this was made for,
    /// with the stickers of `built` and the noise of a median: its colour in the picture,
    /// camera by camera.
    ///
    /// # Panics
    /// If there is no such picture.
    #[must_use]
    pub fn seen(
        &self,
        picture: usize,
        built: &AsBuilt,
        noise: &mut Noise,
    ) -> Vec<(Facelet, EncodedRgb8)> {
        let paints = paints(self.scene, built, &self.shown[picture].0);
        let mut seen = Vec::new();
        for looks in &self.cameras {
            let camera = &self.scene.file().cameras[looks.number];
            let setting = looks.settings[picture];
            for place in &looks.places {
                let own = &paints[usize::from(Material::of_facelet(place.facelet).0)];
                let per_s = electrons(self.scene, &looks.table, &place.light, (own, &paints));
                let draws: [f64; CHANNELS] = core::array::from_fn(|_| noise.gaussian());
                let colour = developed(camera, setting, place.pixels, (per_s, draws));
                seen.push((place.facelet, colour));
            }
        }
        seen
    }
}

/// Electrons a second of a pixel with this light, on a facelet of paint `own`.
fn electrons(
    scene: &Scene,
    table: &LightTable,
    light: &Arrived,
    (own, paints): (&Paint, &[Paint]),
) -> Electrons {
    let mut sum = [0.0; CHANNELS];
    let mut add = |e: Electrons, amount: f64| (0..CHANNELS).for_each(|c| sum[c] += amount * e[c]);
    for (number, (&diffuse, &gloss)) in light.diffuse.iter().zip(&light.gloss).enumerate() {
        let flux = flux(scene, number);
        add(table.diffuse(number, own), diffuse * flux);
        add(table.gloss(number), gloss * flux);
    }
    for &(number, from, amount) in &light.bounced {
        let first = &paints[usize::from(from.0)];
        add(table.bounced(number, first, own), amount * flux(scene, number));
    }
    sum
}

/// The colour in the picture of a facelet whose pixels collect so many electrons a second,
/// with noise of so many standard deviations.
fn developed(
    camera: &Camera,
    setting: Setting,
    pixels: f64,
    (per_s, draws): (Electrons, Electrons),
) -> EncodedRgb8 {
    let read_out = ReadOut::of(camera);
    let dark_e = camera.dark_current_e_per_s * setting.exposure_s;
    let scale = 1.0 / (read_out.highest_code - read_out.black_code);
    let light = core::array::from_fn(|c| {
        let mean_e = per_s[c] * setting.exposure_s + dark_e;
        let code = mean_e.min(read_out.full_well_e) * read_out.codes_per_e + read_out.black_code;
        // A median of many strays by √(π/2) of what their mean does.
        let counted = (pixels * measured(camera.mosaic, c)).max(1.0);
        let sigma = read_out.noise_codes(mean_e) * (FRAC_PI_2 / counted).sqrt();
        let code = (code + sigma * draws[c]).clamp(0.0, read_out.highest_code);
        (code - read_out.black_code) * scale
    });
    EncodedRgb8(encode(camera, mixed(camera.colour_matrix(), setting.balance)(light)))
}

/// What a camera is set to for each picture. Of two that it takes the darker one, as bright as
/// what is read; the first brings less noise than that.
fn settings(scene: &Scene, view: &LitView, shown: &[Stickering]) -> Vec<Setting> {
    let camera = &scene.file().cameras[view.camera];
    let fixed = Setting {
        exposure_s: camera.exposure_ms * camera.bracket_share * 1e-3,
        balance: [camera.white_balance_red_ratio, camera.white_balance_blue_ratio],
    };
    if camera.auto_exposure_share == 0.0 && camera.white_balance == WhiteBalance::Fixed {
        return vec![fixed; shown.len()];
    }
    let built = AsBuilt::exactly(scene);
    let taken = |shown: &Stickering| {
        let taken = view.take(scene, &built, shown, no_moment());
        let exposure_s = taken.exposure_ms * camera.bracket_share * 1e-3;
        Setting { exposure_s, balance: taken.balance }
    };
    shown.iter().map(taken).collect()
}
