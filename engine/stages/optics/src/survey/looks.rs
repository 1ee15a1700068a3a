//! How facelets of the rig as drawn would look with any stickers: the light that arrives
//! is gathered once, and painted without tracing anything again.

use core::f64::consts::FRAC_PI_2;

use dryturn_cube::{Facelet, Stickering};
use dryturn_scene::file::{Camera, WhiteBalance};
use dryturn_scene::{Material, Scene};
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::noise::{Noise, Seed};
use dryturn_units::stop::checkpoint;

use super::separability::measured;
use crate::as_built::AsBuilt;
use crate::develop::{encode, mixed};
use crate::exposure::Shot;
use crate::light_table::{Electrons, LightTable, Paint, paints};
use crate::lit_view::LitView;
use crate::sensor::{CHANNELS, ReadOut};

/// The pixels of one facelet in the camera that reads it.
#[derive(Clone, Copy, Debug)]
pub struct LookedAt<'a> {
    /// The facelet.
    pub facelet: Facelet,
    /// The camera's number.
    pub camera: usize,
    /// Pixels, by row and column: `row · width + column`, ascending.
    pub pixels: &'a [u32],
}

/// A pixel of a facelet: what it would gather of a grey one, and where its light is kept.
/// There may be millions of them in memory: hence small numbers.
struct Lit {
    bright: f64,
    row: u16,
    column: u16,
    /// The facelet's patch in its row; [`NOWHERE`] where no ray has met it.
    patch: u32,
}

const NOWHERE: u32 = u32::MAX;

/// What one pixel gets of the lights on its facelet.
struct Arrived {
    /// By light, the room last.
    diffuse: Vec<f64>,
    gloss: Vec<f64>,
    /// From another material: light, material, amount.
    bounced: Vec<(usize, Material, f64)>,
}

/// The middle half of a facelet's pixels by brightness: their mean is what a median finds,
/// and yet adds up over lights and stickers.
struct Place {
    facelet: Facelet,
    /// Pixels of the whole facelet.
    pixels: f64,
    light: Arrived,
}

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

/// Of a lamp in lumens, of the room in lux.
fn flux(scene: &Scene, light: usize) -> f64 {
    let file = scene.file();
    file.lamps.get(light).map_or(file.surroundings.ambient_lux, |lamp| lamp.flux_lm)
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
    let shot = Shot { seed: Seed::new(0), name: "survey", trial: 0, second: false };
    let taken = |shown: &Stickering| {
        let taken = view.take(scene, &built, shown, shot);
        let exposure_s = taken.exposure_ms * camera.bracket_share * 1e-3;
        Setting { exposure_s, balance: taken.balance }
    };
    shown.iter().map(taken).collect()
}

/// The light on each facelet's pixels, the middle half of them together.
fn places<'l>(
    scene: &Scene,
    view: &LitView,
    table: &LightTable,
    looked_at: impl Iterator<Item = &'l LookedAt<'l>>,
) -> Vec<Place> {
    let lights = view.lamps + 1;
    let grey: Vec<[f64; 2]> = (0..lights)
        .map(|light| {
            let flux = flux(scene, light);
            let diffuse = table.diffuse(light, &Paint::Grey(0.4))[1];
            [diffuse * flux, table.gloss(light)[1] * flux]
        })
        .collect();
    let place = |look: &LookedAt<'_>| {
        let mut pixels = lit(view, look, &grey);
        // Of equals the first in the picture comes first.
        pixels.sort_unstable_by(|a, b| {
            a.bright.total_cmp(&b.bright).then((a.row, a.column).cmp(&(b.row, b.column)))
        });
        let (count, quarter) = (pixels.len(), pixels.len() / 4);
        let middle = &pixels[quarter..count - quarter];
        (count > 0).then(|| Place {
            facelet: look.facelet,
            pixels: count as f64,
            light: mean(middle.iter().map(|pixel| arrived(view, pixel)), lights),
        })
    };
    looked_at.filter_map(place).collect()
}

/// The pixels of a facelet, each with its brightness if the facelet were grey: `grey` is what
/// each light then gives, diffusely and through the gloss.
fn lit(view: &LitView, look: &LookedAt<'_>, grey: &[[f64; 2]]) -> Vec<Lit> {
    let own = Material::of_facelet(look.facelet);
    let row_of = |pixel: &u32| *pixel as usize / view.width;
    let mut found = Vec::with_capacity(look.pixels.len());
    for pixels in look.pixels.chunk_by(|a, b| row_of(a) == row_of(b)) {
        checkpoint();
        let number = row_of(&pixels[0]);
        let row = &view.rows[number];
        let mut patches = row.patches(grey.len());
        let mut wanted = pixels.iter().map(|pixel| *pixel as usize % view.width).peekable();
        for (column, &count) in row.counts.iter().enumerate() {
            let in_pixel = patches.by_ref().take(usize::from(count));
            if wanted.next_if_eq(&column).is_none() {
                in_pixel.for_each(|_| ());
                continue;
            }
            let shade = f64::from(view.vignette[number * view.width + column]);
            let (row, column) = (number as u16, column as u16);
            let mut pixel = Lit { bright: 0.0, row, column, patch: NOWHERE };
            for patch in in_pixel.filter(|patch| patch.material == own) {
                let both = patch.arriving.iter().zip(grey).map(|(arriving, grey)| {
                    f64::from(arriving.diffuse) * shade * grey[0]
                        + f64::from(arriving.gloss) * shade * grey[1]
                });
                (pixel.bright, pixel.patch) = (both.sum(), patch.lit as u32);
            }
            found.push(pixel);
            if wanted.peek().is_none() {
                break;
            }
        }
    }
    found
}

/// The light on a facelet's pixel.
fn arrived(view: &LitView, pixel: &Lit) -> Arrived {
    let (row, column, lights) = (usize::from(pixel.row), usize::from(pixel.column), view.lamps + 1);
    if pixel.patch == NOWHERE {
        let none = vec![0.0; lights];
        return Arrived { diffuse: none.clone(), gloss: none, bounced: Vec::new() };
    }
    let shade = f64::from(view.vignette[row * view.width + column]);
    let (arriving, bounced) = view.rows[row].light(pixel.patch as usize, lights);
    Arrived {
        diffuse: arriving.iter().map(|light| f64::from(light.diffuse) * shade).collect(),
        gloss: arriving.iter().map(|light| f64::from(light.gloss) * shade).collect(),
        bounced: bounced
            .iter()
            .map(|b| (usize::from(b.light), b.from, f64::from(b.diffuse) * shade))
            .collect(),
    }
}

fn mean(pixels: impl ExactSizeIterator<Item = Arrived>, lights: usize) -> Arrived {
    let each = 1.0 / pixels.len().max(1) as f64;
    let mut sum = Arrived { diffuse: vec![0.0; lights], gloss: vec![0.0; lights], bounced: vec![] };
    for pixel in pixels {
        for light in 0..lights {
            sum.diffuse[light] += pixel.diffuse[light] * each;
            sum.gloss[light] += pixel.gloss[light] * each;
        }
        for (light, from, amount) in pixel.bounced {
            match sum.bounced.iter_mut().find(|known| (known.0, known.1) == (light, from)) {
                Some(known) => known.2 += amount * each,
                None => sum.bounced.push((light, from, amount * each)),
            }
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_over_pixels_keeps_lights_and_bounces_apart() {
        let pixel = |d: f64, from: u8| Arrived {
            diffuse: vec![d, 2.0 * d],
            gloss: vec![0.0, d],
            bounced: vec![(1, Material(from), d)],
        };
        let all = [pixel(1.0, 3), pixel(3.0, 3), pixel(2.0, 4)];
        let found = mean(all.into_iter(), 2);
        assert_eq!((found.diffuse, found.gloss), (vec![2.0, 4.0], vec![0.0, 2.0]));
        let amounts: Vec<f64> = found.bounced.iter().map(|b| b.2).collect();
        assert!((amounts[0] - 4.0 / 3.0).abs() < 1e-12 && (amounts[1] - 2.0 / 3.0).abs() < 1e-12);
    }
}
