//! The light that arrives on facelets' pixels, the middle half of each together: gathered once, it
//! can be painted with any stickers.

use dryturn_cube::Facelet;
use dryturn_scene::{Material, Scene};
use dryturn_units::stop::checkpoint;

use crate::lit_view::LitView;
use crate::picture::{LightTable, Paint, flux};

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
pub(super) struct Arrived {
    /// By light, the room last.
    pub(super) diffuse: Vec<f64>,
    pub(super) gloss: Vec<f64>,
    /// From another material: light, material, amount.
    pub(super) bounced: Vec<(usize, Material, f64)>,
}

/// The middle half of a facelet's pixels by brightness: their mean is what a median finds,
/// and yet adds up over lights and stickers.
pub(super) struct Place {
    pub(super) facelet: Facelet,
    /// Pixels of the whole facelet.
    pub(super) pixels: f64,
    pub(super) light: Arrived,
}

/// The light on each facelet's pixels, the middle half of them together.
pub(super) fn places<'l>(
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
