//! What a row of pixels shows: for each pixel the materials in it and how much of
//! every light arrives there.

use dryturn_geometry::lanes::LANES;
use dryturn_scene::Material;

use super::stage::{Arriving, Found};

/// A share of a pixel that shows one material, and the light on it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Patch<'a> {
    pub(crate) material: Material,
    pub(crate) share: f32,
    /// How many patches of the row before it are no backdrop.
    pub(crate) lit: usize,
    /// By light, the room last; none on the backdrop: the room lights it evenly.
    pub(crate) arriving: &'a [Arriving],
    pub(crate) bounced: &'a [Bounced],
}

/// Light that has gone from one material to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bounced {
    /// The patch that it arrives at: its number among those of the row that are no backdrop.
    pub(crate) lit: u32,
    pub(crate) from: Material,
    pub(crate) light: u8,
    pub(crate) diffuse: f32,
}

/// A row of pixels. There may be millions of pixels in memory: hence lists of small numbers.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Row {
    /// For each pixel, how many patches it has: one a material at the most.
    pub(crate) counts: Vec<u8>,
    /// For each patch, what it shows, and in how many of its pixel's samples.
    materials: Vec<Material>,
    samples: Vec<u16>,
    /// Of one sample.
    share: f32,
    /// One entry for each patch that is no backdrop, and light.
    pub(crate) arriving: Vec<Arriving>,
    /// In order of their patches.
    bounced: Vec<Bounced>,
}

// A pixel's patches are counted in a byte, and its samples in two.
const _: () = assert!(Material::COUNT <= u8::MAX as usize);

impl Row {
    /// All patches in the order of their pixels, under so many lights.
    #[inline(always)]
    pub(crate) fn patches(&self, lights: usize) -> Patches<'_> {
        Patches { row: self, lights, next: 0, lit: 0, bounced: 0 }
    }

    /// The light on a patch, and what has bounced to it, by its number among those that are
    /// no backdrop.
    pub(crate) fn light(&self, lit: usize, lights: usize) -> (&[Arriving], &[Bounced]) {
        let before = |end: usize| self.bounced.partition_point(|b| (b.lit as usize) < end);
        let arriving = &self.arriving[lit * lights..(lit + 1) * lights];
        (arriving, &self.bounced[before(lit)..before(lit + 1)])
    }
}

/// The patches of a row in turn.
pub(crate) struct Patches<'a> {
    row: &'a Row,
    lights: usize,
    next: usize,
    lit: usize,
    /// Where what has bounced to the next patches starts.
    bounced: usize,
}

impl<'a> Iterator for Patches<'a> {
    type Item = Patch<'a>;

    #[inline(always)]
    fn next(&mut self) -> Option<Patch<'a>> {
        let row = self.row;
        let &material = row.materials.get(self.next)?;
        // Exact: a sample's share is a power of two.
        let share = f32::from(row.samples[self.next]) * row.share;
        self.next += 1;
        let lit = self.lit;
        if material == Material::BACKDROP {
            return Some(Patch { material, share, lit, arriving: &[], bounced: &[] });
        }
        self.lit += 1;
        let (start, own) = (self.bounced, lit as u32);
        while row.bounced.get(self.bounced).is_some_and(|b| b.lit == own) {
            self.bounced += 1;
        }
        let arriving = &row.arriving[lit * self.lights..(lit + 1) * self.lights];
        Some(Patch { material, share, lit, arriving, bounced: &row.bounced[start..self.bounced] })
    }
}

/// Gathers a row from its samples.
pub(crate) struct Gatherer {
    row: Row,
    lights: usize,
    bounce: bool,
    /// Patches of the pixel that is being gathered start here, those of them that are no
    /// backdrop have numbers from there, and its bounced light starts there.
    first: usize,
    first_lit: usize,
    first_bounced: usize,
    /// Patches so far that are no backdrop.
    lit: usize,
}

/// Sum of the lanes, in a fixed order.
fn total(values: &[f32; LANES]) -> f32 {
    let mut sums = *values;
    for half in [8, 4, 2, 1] {
        for i in 0..half {
            sums[i] += sums[i + half];
        }
    }
    sums[0]
}

impl Gatherer {
    pub(crate) fn new(width: usize, lights: usize, samples: usize, bounce: bool) -> Self {
        let mut row = Row { share: 1.0 / samples as f32, ..Row::default() };
        row.counts.reserve_exact(width);
        row.materials.reserve(width + width / 4);
        row.samples.reserve(width + width / 4);
        Self { row, lights, bounce, first: 0, first_lit: 0, first_bounced: 0, lit: 0 }
    }

    /// The patch of a material in the present pixel, and its number among those that are no
    /// backdrop.
    fn patch(&mut self, material: Material) -> (usize, usize) {
        let mut lit = self.first_lit;
        for (i, &known) in self.row.materials[self.first..].iter().enumerate() {
            if known == material {
                return (self.first + i, lit);
            }
            lit += usize::from(known != Material::BACKDROP);
        }
        self.row.materials.push(material);
        self.row.samples.push(0);
        if material != Material::BACKDROP {
            self.lit += 1;
            self.row.arriving.resize(self.lit * self.lights, Arriving::default());
        }
        (self.row.materials.len() - 1, lit)
    }

    /// All sixteen samples belong to the present pixel and show one material.
    fn add_alike(&mut self, found: &Found) {
        let (patch, lit) = self.patch(found.materials[0]);
        self.row.samples[patch] += LANES as u16;
        if found.materials[0] == Material::BACKDROP {
            return;
        }
        let share = self.row.share;
        let into = &mut self.row.arriving[lit * self.lights..(lit + 1) * self.lights];
        for (into, light) in into.iter_mut().zip(&found.lights) {
            into.diffuse += share * total(&light.diffuse);
            into.gloss += share * total(&light.gloss);
        }
    }

    fn add_lane(&mut self, found: &Found, lane: usize) {
        let (patch, lit) = self.patch(found.materials[lane]);
        self.row.samples[patch] += 1;
        if found.materials[lane] == Material::BACKDROP {
            return;
        }
        let share = self.row.share;
        let into = &mut self.row.arriving[lit * self.lights..(lit + 1) * self.lights];
        for (into, light) in into.iter_mut().zip(&found.lights) {
            into.diffuse += share * light.diffuse[lane];
            into.gloss += share * light.gloss[lane];
        }
    }

    fn add_bounced(&mut self, found: &Found, lane: usize) {
        let from = found.bounced_from[lane];
        if found.materials[lane] == Material::BACKDROP || from == Material::BACKDROP {
            return;
        }
        let lit = self.patch(found.materials[lane]).1 as u32;
        for (light, amounts) in (0u8..).zip(&found.bounced) {
            let diffuse = self.row.share * amounts[lane];
            if diffuse == 0.0 {
                continue;
            }
            let known = self.row.bounced[self.first_bounced..]
                .iter_mut()
                .find(|b| (b.lit, b.from, b.light) == (lit, from, light));
            match known {
                Some(known) => known.diffuse += diffuse,
                None => self.row.bounced.push(Bounced { lit, from, light, diffuse }),
            }
        }
    }

    /// Adds `lanes` of what was found to the present pixel.
    pub(crate) fn add(&mut self, found: &Found, lanes: core::ops::Range<usize>) {
        let alike = found.materials.iter().all(|m| *m == found.materials[0]);
        if alike && lanes.len() == LANES {
            self.add_alike(found);
        } else {
            lanes.clone().for_each(|lane| self.add_lane(found, lane));
        }
        if self.bounce {
            lanes.for_each(|lane| self.add_bounced(found, lane));
        }
    }

    /// Goes on to the next pixel.
    pub(crate) fn next_pixel(&mut self) {
        self.row.bounced[self.first_bounced..].sort_by_key(|b| (b.lit, b.from, b.light));
        self.row.counts.push((self.row.materials.len() - self.first) as u8);
        self.first = self.row.materials.len();
        self.first_lit = self.lit;
        self.first_bounced = self.row.bounced.len();
    }

    pub(crate) fn finish(mut self) -> Row {
        // A view is kept long, and large.
        self.row.materials.shrink_to_fit();
        self.row.samples.shrink_to_fit();
        self.row.arriving.shrink_to_fit();
        self.row.bounced.shrink_to_fit();
        self.row
    }
}

#[cfg(test)]
mod tests {
    use super::super::stage::Arrivals;
    use super::*;

    /// Four pixels of four samples: a facelet, half a facelet before the backdrop, the
    /// backdrop, two facelets; all under two lights, one of which has bounced from a rod.
    fn row() -> Row {
        let (a, b, back) = (Material(3), Material(5), Material::BACKDROP);
        let mut found = Found::new(2);
        found.materials = [a, a, a, a, back, a, back, a, back, back, back, back, b, a, b, b];
        for (light, factor) in [(0, 1.0), (1, 0.5)] {
            let ramp: [f32; LANES] = core::array::from_fn(|lane| factor * lane as f32);
            found.lights[light] = Arrivals { diffuse: ramp, gloss: ramp.map(|v| 2.0 * v) };
        }
        found.bounced_from = [Material::BODY; LANES];
        found.bounced_from[4..8].fill(back);
        found.bounced[1] = [1.0; LANES];
        let mut gatherer = Gatherer::new(4, 2, 4, true);
        for pixel in 0..4 {
            gatherer.add(&found, 4 * pixel..4 * pixel + 4);
            gatherer.next_pixel();
        }
        gatherer.finish()
    }

    #[test]
    fn patches_have_their_own_shares_and_lights() {
        let row = row();
        assert_eq!(row.counts, [1, 2, 1, 2]);
        let patches: Vec<Patch<'_>> = row.patches(2).collect();
        let shares: Vec<(u8, f32)> = patches.iter().map(|p| (p.material.0, p.share)).collect();
        let back = Material::BACKDROP.0;
        let wanted = [(3, 1.0), (back, 0.5), (3, 0.5), (back, 1.0), (5, 0.75), (3, 0.25)];
        assert_eq!(shares, wanted);
        // A quarter of the ramp's values: 0 to 3, 5 and 7, 12 with 14 and 15, 13.
        let diffuse: Vec<Vec<f32>> =
            patches.iter().map(|p| p.arriving.iter().map(|a| a.diffuse).collect()).collect();
        let none = Vec::new;
        let lit = |sum: f32| vec![sum / 4.0, sum / 8.0];
        assert_eq!(diffuse, [lit(6.0), none(), lit(12.0), none(), lit(41.0), lit(13.0)]);
        let gloss = |p: &Patch<'_>| p.arriving.iter().all(|a| a.gloss == 2.0 * a.diffuse);
        assert!(patches.iter().all(gloss));
        // The second pixel gets none that has bounced.
        let bounced: Vec<f32> =
            patches.iter().map(|p| p.bounced.iter().map(|b| b.diffuse).sum()).collect();
        assert_eq!(bounced, [1.0, 0.0, 0.0, 0.0, 0.75, 0.25]);
        assert!(patches.iter().flat_map(|p| p.bounced).all(|b| b.light == 1));
    }

    /// What a patch has in turn it has when it is looked up.
    #[test]
    fn patches_are_found_by_their_number() {
        let row = row();
        let lit = || row.patches(2).filter(|p| p.material != Material::BACKDROP);
        assert_eq!(lit().count(), 4);
        for (number, patch) in lit().enumerate() {
            assert_eq!(patch.lit, number);
            assert_eq!(row.light(number, 2), (patch.arriving, patch.bounced));
        }
    }
}
