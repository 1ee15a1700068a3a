//! What a row of pixels shows: for each pixel the materials in it and how much of
//! every light arrives there.

use dryturn_geometry::lanes::LANES;
use dryturn_scene::Material;

use crate::stage::{Arriving, Found};

/// A share of a pixel that shows one material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Patch {
    pub(crate) material: Material,
    pub(crate) share: f32,
}

/// Light that has gone from one material to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bounced {
    /// The patch of the row that it arrives at.
    pub(crate) patch: u32,
    pub(crate) from: Material,
    pub(crate) light: u32,
    pub(crate) diffuse: f32,
}

/// A row of pixels. Patches of the backdrop have no lights: the room lights it evenly.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Row {
    /// For each pixel, where its patches end.
    pub(crate) ends: Vec<u32>,
    pub(crate) patches: Vec<Patch>,
    /// One entry for each patch that is no backdrop, and light.
    pub(crate) arriving: Vec<Arriving>,
    /// In order of their patches.
    pub(crate) bounced: Vec<Bounced>,
}

/// Gathers a row from its samples.
pub(crate) struct Gatherer {
    row: Row,
    lights: usize,
    /// Of one sample.
    share: f32,
    bounce: bool,
    /// Patches of the pixel that is being gathered start here, their lights there,
    /// and its bounced light there.
    first: usize,
    first_arriving: usize,
    first_bounced: usize,
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
        let mut row = Row::default();
        row.ends.reserve(width);
        row.patches.reserve(width + width / 4);
        let share = 1.0 / samples as f32;
        Self { row, lights, share, bounce, first: 0, first_arriving: 0, first_bounced: 0 }
    }

    /// The patch of a material in the present pixel, and where its lights start.
    fn patch(&mut self, material: Material) -> (usize, usize) {
        let mut lights_at = self.first_arriving;
        for (i, patch) in self.row.patches[self.first..].iter().enumerate() {
            if patch.material == material {
                return (self.first + i, lights_at);
            }
            if patch.material != Material::BACKDROP {
                lights_at += self.lights;
            }
        }
        self.row.patches.push(Patch { material, share: 0.0 });
        if material != Material::BACKDROP {
            let lights = self.row.arriving.len() + self.lights;
            self.row.arriving.resize(lights, Arriving::default());
        }
        (self.row.patches.len() - 1, lights_at)
    }

    /// All sixteen samples belong to the present pixel and show one material.
    fn add_alike(&mut self, found: &Found) {
        let (patch, at) = self.patch(found.materials[0]);
        self.row.patches[patch].share += self.share * LANES as f32;
        if found.materials[0] == Material::BACKDROP {
            return;
        }
        let into = &mut self.row.arriving[at..at + self.lights];
        for (into, light) in into.iter_mut().zip(&found.lights) {
            into.diffuse += self.share * total(&light.diffuse);
            into.gloss += self.share * total(&light.gloss);
        }
    }

    fn add_lane(&mut self, found: &Found, lane: usize) {
        let (patch, at) = self.patch(found.materials[lane]);
        self.row.patches[patch].share += self.share;
        if found.materials[lane] == Material::BACKDROP {
            return;
        }
        let into = &mut self.row.arriving[at..at + self.lights];
        for (into, light) in into.iter_mut().zip(&found.lights) {
            into.diffuse += self.share * light.diffuse[lane];
            into.gloss += self.share * light.gloss[lane];
        }
    }

    fn add_bounced(&mut self, found: &Found, lane: usize) {
        let from = found.bounced_from[lane];
        if found.materials[lane] == Material::BACKDROP || from == Material::BACKDROP {
            return;
        }
        let patch = self.patch(found.materials[lane]).0 as u32;
        for (light, amounts) in (0u32..).zip(&found.bounced) {
            let diffuse = self.share * amounts[lane];
            if diffuse == 0.0 {
                continue;
            }
            let known = self.row.bounced[self.first_bounced..]
                .iter_mut()
                .find(|b| (b.patch, b.from, b.light) == (patch, from, light));
            match known {
                Some(known) => known.diffuse += diffuse,
                None => self.row.bounced.push(Bounced { patch, from, light, diffuse }),
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
        self.row.bounced[self.first_bounced..].sort_by_key(|b| (b.patch, b.from, b.light));
        self.row.ends.push(self.row.patches.len() as u32);
        self.first = self.row.patches.len();
        self.first_arriving = self.row.arriving.len();
        self.first_bounced = self.row.bounced.len();
    }

    pub(crate) fn finish(mut self) -> Row {
        // A view is kept long, and large.
        self.row.patches.shrink_to_fit();
        self.row.arriving.shrink_to_fit();
        self.row.bounced.shrink_to_fit();
        self.row
    }
}
