//! How facelets of the rig as drawn would look with any stickers: the light that arrives
//! is gathered once, and painted without tracing anything again.

use core::f64::consts::FRAC_PI_2;

use dryturn_cube::{Facelet, Stickering};
use dryturn_scene::file::{Camera, WhiteBalance};
use dryturn_scene::{Material, Scene};
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::noise::{Noise, Seed};

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
    /// Pixels, by row and column: `row · width + column`.
    pub pixels: &'a [u32],
}

/// What one pixel gets of the lights on its facelet.
#[derive(Clone)]
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
    shown: &'a [Stickering],
    cameras: Vec<CameraLooks>,
}

impl<'a> Looks<'a> {
    /// Gathers the light on some facelets in `views`, one of each camera of the rig as drawn,
    /// for pictures of cubes that show each of `shown`. A camera that chooses its exposure
    /// time or its balance does so for each picture of the rig as drawn.
    #[must_use]
    pub fn of(
        scene: &'a Scene,
        views: &[LitView],
        looked_at: &[LookedAt<'_>],
        shown: &'a [Stickering],
    ) -> Self {
        let camera = |view: &LitView| {
            let own: Vec<&LookedAt<'_>> =
                looked_at.iter().filter(|look| look.camera == view.camera).collect();
            let table = LightTable::new(scene, &scene.file().cameras[view.camera]);
            let places = places(scene, view, &table, &own);
            let settings = settings(scene, view, shown);
            CameraLooks { number: view.camera, table, places, settings }
        };
        Self { scene, shown, cameras: views.iter().map(camera).collect() }
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
    EncodedRgb8(encode(camera, mixed(camera, setting.balance)(light)))
}

/// What a camera is set to for each picture.
fn settings(scene: &Scene, view: &LitView, shown: &[Stickering]) -> Vec<Setting> {
    let camera = &scene.file().cameras[view.camera];
    let fixed = Setting {
        exposure_s: camera.exposure_ms * 1e-3,
        balance: [camera.white_balance_red_ratio, camera.white_balance_blue_ratio],
    };
    if camera.auto_exposure_share == 0.0 && camera.white_balance == WhiteBalance::Fixed {
        return vec![fixed; shown.len()];
    }
    let built = AsBuilt::exactly(scene);
    let shot = Shot { seed: Seed::new(0), name: "survey", trial: 0 };
    let taken = |shown: &Stickering| {
        let taken = view.take(scene, &built, shown, shot);
        Setting { exposure_s: taken.exposure_ms * 1e-3, balance: taken.balance }
    };
    shown.iter().map(taken).collect()
}

/// The light on each facelet's pixels, the middle half of them together.
fn places(
    scene: &Scene,
    view: &LitView,
    table: &LightTable,
    looked_at: &[&LookedAt<'_>],
) -> Vec<Place> {
    const NOBODY: usize = usize::MAX;
    let mut owner = vec![NOBODY; view.width * view.height];
    for (number, look) in looked_at.iter().enumerate() {
        look.pixels.iter().for_each(|&pixel| owner[pixel as usize] = number);
    }
    let lights = view.lamps + 1;
    let grey: Vec<(f64, f64)> = (0..lights)
        .map(|light| {
            let flux = flux(scene, light);
            let diffuse = table.diffuse(light, &Paint::Grey(0.4))[1];
            (diffuse * flux, table.gloss(light)[1] * flux)
        })
        .collect();
    let mut found: Vec<Vec<(f64, Arrived)>> = vec![Vec::new(); looked_at.len()];
    for (number, row) in view.rows.iter().enumerate() {
        let (mut start, mut lights_at, mut bounced_at) = (0, 0, 0);
        for (column, &end) in row.ends.iter().enumerate() {
            let pixel = number * view.width + column;
            let own = owner[pixel];
            let shade = f64::from(view.vignette[pixel]);
            let mut into = Arrived {
                diffuse: vec![0.0; if own == NOBODY { 0 } else { lights }],
                gloss: vec![0.0; if own == NOBODY { 0 } else { lights }],
                bounced: Vec::new(),
            };
            for (at, patch) in (start..end).zip(&row.patches[start as usize..end as usize]) {
                if patch.material == Material::BACKDROP {
                    continue;
                }
                let arrivals = &row.arriving[lights_at..lights_at + lights];
                lights_at += lights;
                let wanted =
                    own != NOBODY && patch.material == Material::of_facelet(looked_at[own].facelet);
                if wanted {
                    for (light, arrival) in arrivals.iter().enumerate() {
                        into.diffuse[light] += f64::from(arrival.diffuse) * shade;
                        into.gloss[light] += f64::from(arrival.gloss) * shade;
                    }
                }
                while let Some(b) = row.bounced.get(bounced_at).filter(|b| b.patch == at) {
                    bounced_at += 1;
                    if wanted {
                        let amount = f64::from(b.diffuse) * shade;
                        into.bounced.push((b.light as usize, b.from, amount));
                    }
                }
            }
            start = end;
            if own != NOBODY {
                let both = into.diffuse.iter().zip(&into.gloss).zip(&grey);
                let bright = both.map(|((d, g), grey)| d * grey.0 + g * grey.1).sum();
                found[own].push((bright, into));
            }
        }
    }
    let place = |(look, mut pixels): (&&LookedAt<'_>, Vec<(f64, Arrived)>)| {
        pixels.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (count, quarter) = (pixels.len(), pixels.len() / 4);
        let middle = &pixels[quarter..count - quarter];
        (count > 0).then(|| Place {
            facelet: look.facelet,
            pixels: count as f64,
            light: mean(middle.iter().map(|(_, light)| light), lights),
        })
    };
    looked_at.iter().zip(found).filter_map(place).collect()
}

fn mean<'p>(pixels: impl ExactSizeIterator<Item = &'p Arrived>, lights: usize) -> Arrived {
    let each = 1.0 / pixels.len().max(1) as f64;
    let mut sum = Arrived { diffuse: vec![0.0; lights], gloss: vec![0.0; lights], bounced: vec![] };
    for pixel in pixels {
        for light in 0..lights {
            sum.diffuse[light] += pixel.diffuse[light] * each;
            sum.gloss[light] += pixel.gloss[light] * each;
        }
        for &(light, from, amount) in &pixel.bounced {
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
        let found = mean(all.iter(), 2);
        assert_eq!((found.diffuse, found.gloss), (vec![2.0, 4.0], vec![0.0, 2.0]));
        let amounts: Vec<f64> = found.bounced.iter().map(|b| b.2).collect();
        assert!((amounts[0] - 4.0 / 3.0).abs() < 1e-12 && (amounts[1] - 2.0 / 3.0).abs() < 1e-12);
    }
}
