//! How far apart each pair of colours is, for who knows the place and for who does not, and
//! how many sightings a calibration will therefore take for another colour.
//!
//! All of it follows from the drawing: the light that arrives at each facelet, the spread of
//! stickers and the sensor's noise. No rig that anybody scans is looked at.

use dryturn_cube::{Face, Facelet, MOUNTINGS, Stickering};
use dryturn_optics::survey::{LookedAt, Looks, PAIRS, Survey};
use dryturn_optics::{AsBuilt, LitView};
use dryturn_reading::{Calibration, KnownColour, LEFT_OUT_WAYS, LeftOut, Patches};
use dryturn_scene::Scene;
use dryturn_scene::file::Method;
use dryturn_units::noise::Seed;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use dryturn_statistics::{normal_tail, quantile};

/// Sets of stickers that are drawn.
const DRAWS: u64 = 64;
/// Places in [`LEFT_OUT_WAYS`].
const NEAREST: usize = 0;
const GAUSSIAN: usize = 3;

/// How far apart two colours are over all places that are read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Apart {
    /// At the place where they are closest, in standard deviations; below 0 where one of them
    /// is more often taken for the other than not.
    pub worst_sigmas: f64,
    /// That place.
    pub worst: Facelet,
    /// At the middle one of the places.
    pub median_sigmas: f64,
    /// Share of the sightings of either that are taken for the other, of two normal
    /// distributions so far apart at each place.
    pub mistaken_share: f64,
}

/// The margin of a pair of colours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PairMargin {
    /// The colours, as their faces.
    pub pair: [Face; 2],
    /// For who knows how every colour looks at the place: the distance of the two colours'
    /// means there (Mahalanobis), from the noise of a facelet's pixels and the spread of
    /// stickers.
    pub known: Apart,
    /// For who takes the nearest colour by summed RGB difference and knows how colours look
    /// elsewhere: twice the distance from the border between the two, for the one of them
    /// that is closer to it.
    pub unknown: Apart,
}

/// What a calibration on six mountings of the solved cube is expected to find when it leaves
/// out sightings in turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ExpectedErrors {
    /// The way to tell colours apart.
    pub method: Method,
    /// Share of the sightings that it takes for another colour.
    pub wrong_share: f64,
    /// The share below and above which it is in 2.5 % each of rigs that differ in their
    /// stickers.
    pub range: (f64, f64),
    /// Sightings by true colour (row) and what they are taken for (column), shares of all.
    pub confusion: [[f64; 6]; 6],
}

/// Margins of all pairs, and what they lead one to expect.
#[derive(Clone, Debug, PartialEq)]
pub struct Margins {
    /// All 15 pairs of colours, in the order of their faces.
    pub pairs: Vec<PairMargin>,
    /// By the ways of [`LEFT_OUT_WAYS`].
    pub expected: [ExpectedErrors; 4],
    /// Sightings that one calibration leaves out.
    pub sightings: usize,
}

impl Margins {
    /// The pair of two colours, given as their faces in any order.
    #[must_use]
    pub fn pair(&self, a: Face, b: Face) -> Option<&PairMargin> {
        self.pairs.iter().find(|margin| margin.pair == [a, b] || margin.pair == [b, a])
    }

    /// The pairs, the one that the nearest colour mistakes most often first.
    #[must_use]
    pub fn closest_first(&self) -> Vec<&PairMargin> {
        let taken = |margin: &PairMargin| {
            let ([a, b], table) = (margin.pair.map(Face::index), &self.nearest().confusion);
            table[a][b] + table[b][a]
        };
        let mut pairs: Vec<&PairMargin> = self.pairs.iter().collect();
        // Stable: equals stay in the order of their faces.
        pairs.sort_by(|a, b| {
            let shares = taken(b).total_cmp(&taken(a));
            shares.then(a.unknown.worst_sigmas.total_cmp(&b.unknown.worst_sigmas))
        });
        pairs
    }

    /// The pair that the nearest colour mistakes most often.
    #[must_use]
    pub fn most_mistaken(&self) -> Option<&PairMargin> {
        self.closest_first().first().copied()
    }

    /// What the nearest colour by summed RGB difference is expected to do: it never knows the
    /// place.
    #[must_use]
    pub fn nearest(&self) -> &ExpectedErrors {
        &self.expected[NEAREST]
    }

    /// What Gaussian classes are expected to do: they know the place by its other colours.
    #[must_use]
    pub fn gaussian(&self) -> &ExpectedErrors {
        &self.expected[GAUSSIAN]
    }
}

/// What margins are found from: the light on the facelets that are read, gathered camera by
/// camera.
pub(super) struct Gathering<'a> {
    scene: &'a Scene,
    seed: Seed,
    patches: Patches,
    looks: Looks<'a>,
}

/// What the six pictures of a calibration show.
fn mountings() -> [Stickering; MOUNTINGS.len()] {
    MOUNTINGS.map(Stickering::solved_in)
}

impl<'a> Gathering<'a> {
    pub(super) fn of(scene: &'a Scene, seed: Seed) -> Self {
        let looks = Looks::new(scene, &mountings());
        Self { scene, seed, patches: Patches::of(scene), looks }
    }

    /// Adds a camera, in scene order: its view of the rig as drawn.
    pub(super) fn add(&mut self, view: &LitView) {
        let looked_at: Vec<LookedAt<'_>> = Facelet::all()
            .filter_map(|facelet| {
                let (camera, pixels) = self.patches.pixels_of(facelet)?;
                Some(LookedAt { facelet, camera, pixels })
            })
            .collect();
        self.looks.add(view, &looked_at);
    }

    /// From all cameras; `None` where too little is seen to calibrate.
    pub(super) fn finish(self, survey: &Survey) -> Option<Margins> {
        let rigs = rigs(self.scene, &self.looks, &self.patches, self.seed)?;
        let first = rigs.first()?;
        let pairs = PAIRS.map(|pair| {
            Some(PairMargin {
                pair,
                known: known(&self.patches, survey, pair)?,
                unknown: unknown(&rigs, pair)?,
            })
        });
        Some(Margins {
            pairs: pairs.into_iter().collect::<Option<_>>()?,
            expected: core::array::from_fn(|way| expected(&rigs, way)),
            sightings: first.len(),
        })
    }
}

/// What calibrations of rigs with drawn stickers leave out, rig by rig, always in the same
/// order; `None` where a colour shows nowhere.
fn rigs(
    scene: &Scene,
    looks: &Looks<'_>,
    patches: &Patches,
    seed: Seed,
) -> Option<Vec<Vec<LeftOut>>> {
    let shown = mountings();
    // Stickers of no rig that this seed builds.
    let stickers = Seed::new(seed.stream("margins", 0, 0).bits());
    let rig = |draw: u64| -> Option<Vec<LeftOut>> {
        let built = AsBuilt::draw(scene, stickers, draw);
        let scan = |picture: usize| -> Vec<KnownColour> {
            let colours = shown[picture].colours();
            let mut noise = seed.stream("margins", draw, picture as u64 + 1);
            let seen = looks.seen(picture, &built, &mut noise);
            let known = |(facelet, seen): (Facelet, _)| KnownColour {
                facelet: Some(facelet),
                colour: colours[facelet.index()],
                seen,
            };
            seen.into_iter().map(known).collect()
        };
        let scans: Vec<Vec<KnownColour>> = (0..shown.len()).map(scan).collect();
        Calibration::leave_out(patches, &scans).ok().filter(|found| !found.is_empty())
    };
    (0..DRAWS).into_par_iter().map(carried(rig)).collect()
}

/// Places and their margins, put together.
fn apart(mut places: Vec<(Facelet, f64)>, mistaken_share: f64) -> Option<Apart> {
    // Stable: the first of equals comes first.
    places.sort_by(|a, b| a.1.total_cmp(&b.1));
    let &(worst, worst_sigmas) = places.first()?;
    Some(Apart { worst_sigmas, worst, median_sigmas: places[places.len() / 2].1, mistaken_share })
}

fn known(patches: &Patches, survey: &Survey, pair: [Face; 2]) -> Option<Apart> {
    let number = PAIRS.iter().position(|&known| known == pair)?;
    let at = |facelet: Facelet| {
        let camera = &survey.cameras[patches.camera_of(facelet)?];
        let found = camera.facelets.iter().find(|f| f.facelet == facelet)?;
        Some((facelet, found.pair_sigmas?[number]))
    };
    let places: Vec<(Facelet, f64)> = Facelet::all().filter_map(at).collect();
    let tails: f64 = places.iter().map(|place| normal_tail(place.1 / 2.0)).sum();
    let share = tails / places.len().max(1) as f64;
    apart(places, share)
}

/// Standard deviations between a sighting and the border to another colour, over all rigs.
fn sigmas_to(rigs: &[Vec<LeftOut>], sighting: usize, other: Face) -> f64 {
    let ahead = |rig: &Vec<LeftOut>| {
        let left_out = &rig[sighting];
        let logs = &left_out.log_likelihoods[NEAREST];
        logs[left_out.colour.index()] - logs[other.index()]
    };
    let count = rigs.len() as f64;
    let mean = rigs.iter().map(ahead).sum::<f64>() / count;
    let square = |rig| {
        let off = ahead(rig) - mean;
        off * off
    };
    let sigma = (rigs.iter().map(square).sum::<f64>() / (count - 1.0).max(1.0)).sqrt();
    // Without any spread there is no doubt, unless it lies on the border itself.
    if mean == 0.0 { 0.0 } else { mean / sigma }
}

fn unknown(rigs: &[Vec<LeftOut>], pair: [Face; 2]) -> Option<Apart> {
    let mut places: Vec<(Facelet, f64)> = Vec::new();
    let (mut tails, mut count) = (0.0, 0.0);
    for (number, sighting) in rigs.first()?.iter().enumerate() {
        let [a, b] = pair;
        let other = match sighting.colour {
            colour if colour == a => b,
            colour if colour == b => a,
            _ => continue,
        };
        let sigmas = sigmas_to(rigs, number, other);
        (tails, count) = (tails + normal_tail(sigmas), count + 1.0);
        match places.iter_mut().find(|place| place.0 == sighting.facelet) {
            Some(place) => place.1 = place.1.min(2.0 * sigmas),
            None => places.push((sighting.facelet, 2.0 * sigmas)),
        }
    }
    apart(places, tails / f64::max(count, 1.0))
}

fn expected(rigs: &[Vec<LeftOut>], way: usize) -> ExpectedErrors {
    let mut confusion = [[0.0; 6]; 6];
    let mut shares = Vec::new();
    for rig in rigs {
        let each = 1.0 / rig.len().max(1) as f64;
        for sighting in rig {
            let taken = sighting.taken(way).index();
            confusion[sighting.colour.index()][taken] += each / rigs.len() as f64;
        }
        let wrong = rig.iter().filter(|sighting| sighting.taken(way) != sighting.colour);
        shares.push(wrong.count() as f64 * each);
    }
    let wrong_share = shares.iter().sum::<f64>() / shares.len().max(1) as f64;
    shares.sort_by(f64::total_cmp);
    let at = |share: f64| quantile(&shares, share).unwrap_or(0.0);
    let range = (at(0.025), at(0.975));
    ExpectedErrors { method: LEFT_OUT_WAYS[way], wrong_share, range, confusion }
}
