//! Follows a change of the light to where it explains what is seen best, in turn with how
//! probable each colour is at each facelet (expectation and maximisation).

use core::cell::Cell;
use std::sync::Arc;

use dryturn_cube::{Colouring, Facelet};
use dryturn_geometry::DVec3;
use dryturn_units::maths;
use dryturn_units::noise::Seed;
use dryturn_units::stop::checkpoint;

use super::beforehand::Beforehand;
use super::equations::Equations;
use super::light::{BLOCKS, Change, ONE_LIGHT, TWO_LIGHTS, second_blocks, veil_blocks};
use super::prior::Moved;
use super::states::{Besides, Given, Rates, Told, WAYS, told};
use crate::appearance::{Appearance, Seen, Stray};
use crate::decoder::{Evidence, Mounted};

/// Rounds of the fit, and the step of all unknowns at which it has settled.
const MOST_ROUNDS: usize = 16;
const ROUNDS_OF_A_CUBE: usize = 5;
const SETTLED: f64 = 0.012;
/// How much wider than they are the classes are taken in the first rounds.
const WIDER: [f64; 3] = [16.0, 4.0, 2.0];

/// Elementary steps that a decoding counts for.
const DECODING_STEPS: u64 = 400;
/// How many lights are drawn from what a cube's samples leave open of it.
const DRAWS: u64 = 12;

/// What is seen of a facelet, and how much it counts.
pub(crate) struct Sight {
    pub(crate) seen: Seen,
    pub(crate) weight: f64,
}

/// All that a change of the light is sought in.
pub(crate) struct Search<'a> {
    pub(crate) looks: &'a Appearance,
    pub(crate) sights: &'a [Sight],
    /// By camera: what is known of the light, as [`Moved`] has it.
    pub(crate) known: Vec<[Beforehand; 6]>,
    /// By camera, as [`Appearance::elsewhere`] has it.
    pub(crate) elsewhere: Vec<Arc<Vec<[DVec3; 6]>>>,
    /// By facelet index: the share of each lamp, and of the room, in its light as drawn.
    pub(crate) shares: Arc<Vec<Vec<f64>>>,
    /// By camera: the change that the grey patch shows.
    pub(crate) patches: Vec<Option<DVec3>>,
    /// The colour that throws back most light.
    pub(crate) whitest: usize,
    /// The most probable cube of some evidence.
    pub(crate) decoder: fn(&Evidence) -> Mounted,
    /// Elementary steps so far.
    pub(crate) steps: Cell<u64>,
}

impl Search<'_> {
    /// The most probable cube of some evidence.
    pub(crate) fn decode(&self, evidence: &Evidence) -> Mounted {
        self.count(DECODING_STEPS);
        (self.decoder)(evidence)
    }

    fn count(&self, steps: u64) {
        self.steps.set(self.steps.get() + steps);
    }

    /// The mean of something over all sights, each counting as much as it does.
    pub(crate) fn mean(&self, of: impl Fn(usize, &Sight) -> f64) -> f64 {
        let all: f64 = self.sights.iter().map(|sight| sight.weight).sum();
        let sights = self.sights.iter().enumerate();
        sights.map(|(k, sight)| sight.weight * of(k, sight)).sum::<f64>() / all.max(1e-9)
    }

    fn beforehand(&self, light: &Light, camera: usize) -> &Beforehand {
        &self.known[camera][light.moved as usize]
    }
}

/// Changes of the light, by camera, and what there is besides.
#[derive(Clone)]
pub(crate) struct Light {
    pub(crate) moved: Moved,
    pub(crate) changes: Vec<Change>,
    pub(crate) besides: Besides,
    pub(crate) rates: Rates,
    /// How far samples stray in it.
    pub(crate) stray: Stray,
}

impl Light {
    /// One light that has changed alike for all colours, by camera.
    pub(crate) fn one(changes: &[DVec3], moved: Moved) -> Self {
        let changes = changes.iter().map(|by| Change::all(*by)).collect();
        let stray = moved.usual_stray();
        Self { changes, moved, besides: Besides::Nothing, rates: Rates::USUAL, stray }
    }

    /// A light that was added and makes all so much brighter, by camera.
    pub(crate) fn added(search: &Search<'_>, changes: &[DVec3]) -> Self {
        let changes = changes.iter().zip(&search.elsewhere);
        let changes =
            changes.map(|(by, elsewhere)| Change::added(*by, elsewhere.clone())).collect();
        Self { changes, ..Self::one(&[], Moved::Added) }
    }

    /// Lamps of which each may have its own strength now, and has as much as it had.
    pub(crate) fn lamps(search: &Search<'_>) -> Self {
        let changes = search.elsewhere.iter().map(|_| Change::lamps(search.shares.clone()));
        Self { changes: changes.collect(), ..Self::one(&[], Moved::Lamps) }
    }

    /// With a second light of such a strength besides.
    pub(crate) fn with_second(&self, step: f64) -> Self {
        let changes = self.changes.iter().map(|change| change.with_second(step)).collect();
        Self { changes, besides: Besides::Light, ..*self }
    }

    /// With a patch of added light of such a strength besides.
    pub(crate) fn with_patch(&self, strength: f64) -> Self {
        Self { besides: Besides::Patch, ..self.with_second(strength) }
    }

    /// With a veil on the faces besides, this much stronger than a usual one.
    pub(crate) fn with_veil(&self, step: f64) -> Self {
        let changes = self.changes.iter().map(|change| change.with_veil(step)).collect();
        Self { changes, besides: Besides::Veil, ..*self }
    }

    /// The same where samples stray less; `None` where they stray as little as may be.
    pub(crate) fn plainer(&self) -> Option<Self> {
        Some(Self { stray: self.stray.less()?, ..self.clone() })
    }

    /// The same where samples stray as far as they may in such a light.
    pub(crate) fn straying(&self) -> Self {
        let stray = if self.moved == Moved::Not { self.stray } else { Stray::Changed };
        Self { stray, ..self.clone() }
    }

    fn blocks(&self) -> usize {
        match self.besides {
            Besides::Nothing => ONE_LIGHT,
            Besides::Light | Besides::Patch => TWO_LIGHTS,
            Besides::Veil => BLOCKS,
        }
    }
}

/// A change of the light that explains the samples, and what they then say.
pub(crate) struct Explained {
    pub(crate) light: Light,
    pub(crate) mounted: Mounted,
    /// What the samples say of the colours under this change.
    pub(crate) evidence: Evidence,
    /// Logarithm of how probable samples and change are together, up to a constant that
    /// all explanations share.
    pub(crate) weight: f64,
}

/// What each sight says of each colour under a light.
fn all_told(search: &Search<'_>, light: &Light, wider: f64) -> Vec<[Told; 6]> {
    let of = |sight: &Sight| {
        let change = &light.changes[sight.seen.camera];
        let one = |colour| {
            let colours = (colour, search.whitest);
            let Light { besides, rates, stray, .. } = light;
            let elsewhere = search.elsewhere[sight.seen.camera][sight.seen.facelet.index()][colour];
            let given = Given { change, wider, besides: *besides, elsewhere, rates, stray: *stray };
            told(search.looks, &sight.seen, colours, &given)
        };
        core::array::from_fn(one)
    };
    search.count(6 * search.sights.len() as u64);
    search.sights.iter().map(of).collect()
}

/// Their sum over all sights of a facelet.
fn evidence(search: &Search<'_>, all: &[[Told; 6]]) -> Evidence {
    let mut sums = [[0.0; 6]; Facelet::COUNT];
    for (sight, told) in search.sights.iter().zip(all) {
        let sum = &mut sums[sight.seen.facelet.index()];
        (0..6).for_each(|c| sum[c] += sight.weight * told[c].log);
    }
    let mut evidence = Evidence::none();
    Facelet::all().for_each(|facelet| evidence.set(facelet, sums[facelet.index()]));
    evidence
}

/// Equations for the light of a camera, given how probable each colour is at each facelet; what
/// each way to explain a sample accounts for is added to `counts`.
fn equations(
    search: &Search<'_>,
    (light, camera): (&Light, usize),
    all: &[[Told; 6]],
    probability: &impl Fn(Facelet, usize) -> f64,
    counts: &mut [f64; WAYS],
) -> Equations {
    let known = search.beforehand(light, camera);
    let mut equations = Equations::of(known, &light.changes[camera], light.blocks());
    for (sight, told) in search.sights.iter().zip(all).filter(|(s, _)| s.seen.camera == camera) {
        let facelet = sight.seen.facelet;
        for (colour, told) in told.iter().enumerate() {
            let weight = sight.weight * probability(facelet, colour);
            if weight < 1e-4 {
                continue;
            }
            counts.iter_mut().zip(told.shares).for_each(|(sum, share)| *sum += weight * share);
            let first = light.changes[camera].blocks(facelet, colour);
            equations.add_by_channel(&first, told.first.0 * weight, told.first.1 * weight);
            if light.besides == Besides::Nothing {
                continue;
            }
            let [own, over] = told.mixed;
            let own = first.into_iter().map(|(block, part)| (block, own * part));
            let other = |(block, part): (usize, f64)| (block, over * part);
            let both: Vec<(usize, DVec3)> = match light.besides {
                Besides::Veil => own.chain(veil_blocks(facelet).map(other)).collect(),
                _ => own.chain(second_blocks(facelet).map(other)).collect(),
            };
            equations.add_by_channel(&both, told.second.0 * weight, told.second.1 * weight);
        }
    }
    equations
}

/// One step of the light, given how probable each colour is at each facelet: the longest part
/// of it, and half the logarithm of the determinant of the precision.
fn step(
    search: &Search<'_>,
    light: &mut Light,
    all: &[[Told; 6]],
    probability: impl Fn(Facelet, usize) -> f64,
) -> (f64, f64) {
    let mut counts = [0.0; WAYS];
    let (mut largest, mut determinants) = (0.0f64, 0.0);
    for camera in 0..light.changes.len() {
        let equations = equations(search, (light, camera), all, &probability, &mut counts);
        if let Some((step, determinant)) = equations.step(&mut light.changes[camera]) {
            largest = largest.max(step);
            determinants += determinant;
        }
    }
    light.rates = Rates::of(counts);
    (largest, determinants)
}

/// Probability of a cube in lights drawn from what its samples leave open of the light
/// (Laplace's approximation): the mean over them.
pub(crate) fn probability_of(search: &Search<'_>, light: &Light, colours: &Colouring) -> f64 {
    let all = all_told(search, light, 1.0);
    let own = |f: Facelet, colour: usize| f64::from(u8::from(colours[f.index()].index() == colour));
    let triangles: Vec<_> = (0..light.changes.len())
        .map(|camera| equations(search, (light, camera), &all, &own, &mut [0.0; WAYS]).triangle())
        .collect();
    let mut sum = 0.0;
    for draw in 0..DRAWS {
        checkpoint();
        let mut drawn = light.clone();
        for (camera, triangle) in triangles.iter().enumerate() {
            let Some(triangle) = triangle else { continue };
            // Each draw goes with the one on the other side.
            let sign = if draw % 2 == 0 { 1.0 } else { -1.0 };
            let mut noise = Seed::new(0).stream("light-left-open", draw / 2, camera as u64);
            let normal: Vec<f64> =
                (0..3 * light.blocks()).map(|_| sign * noise.gaussian()).collect();
            drawn.changes[camera] = light.changes[camera].drawn(triangle, &normal);
        }
        let evidence = evidence(search, &all_told(search, &drawn, 1.0));
        let weight = evidence.weight(colours);
        let decoded = search.decode(&evidence).decoded;
        sum += maths::exp(weight - decoded.log_total).min(1.0);
    }
    sum / DRAWS as f64
}

/// Logarithm of the prior of a light, and what all its unknowns leave open of it (Laplace).
fn beforehand(search: &Search<'_>, light: &Light, half_log_determinant: f64) -> f64 {
    let count = light.blocks();
    let of = |(camera, change): (usize, &Change)| {
        let known = search.beforehand(light, camera);
        known.log_density(change, count) + known.half_log_determinant(count)
    };
    let prior: f64 = light.changes.iter().enumerate().map(of).sum();
    prior + light.moved.log_probability() + light.rates.log_density() - half_log_determinant
}

/// Follows a change of the light from a start to where it explains the samples best.
pub(crate) fn explain(search: &Search<'_>, start: Light, near: bool) -> Explained {
    let mut light = start;
    let mut determinants = 0.0;
    let wide: &[f64] = if near { &[] } else { &WIDER };
    for round in 0..MOST_ROUNDS {
        checkpoint();
        let wider = wide.get(round).copied().unwrap_or(1.0);
        let all = all_told(search, &light, wider);
        let decoded = search.decode(&evidence(search, &all)).decoded;
        let probability = |f: Facelet, colour: usize| decoded.facelets[f.index()][colour];
        let (largest, found) = step(search, &mut light, &all, probability);
        determinants = found;
        if wider == 1.0 && largest < SETTLED {
            break;
        }
    }
    let evidence = evidence(search, &all_told(search, &light, 1.0));
    let mounted = search.decode(&evidence);
    let weight = mounted.decoded.log_total + beforehand(search, &light, determinants);
    Explained { light, mounted, evidence, weight }
}

/// How probable samples and light are together for one cube, at the light that suits it best;
/// `start` is where to look for that.
pub(crate) fn weight_of_cube(search: &Search<'_>, start: &Light, colours: &Colouring) -> f64 {
    let mut light = start.clone();
    let mut determinants = 0.0;
    let at = |facelet: Facelet| colours[facelet.index()].index();
    for _ in 0..ROUNDS_OF_A_CUBE {
        let all = all_told(search, &light, 1.0);
        let probability = |f: Facelet, colour: usize| f64::from(u8::from(at(f) == colour));
        let (largest, found) = step(search, &mut light, &all, probability);
        determinants = found;
        if largest < SETTLED {
            break;
        }
    }
    let all = all_told(search, &light, 1.0);
    let of = |(sight, told): (&Sight, &[Told; 6])| sight.weight * told[at(sight.seen.facelet)].log;
    let likelihood: f64 = search.sights.iter().zip(&all).map(of).sum();
    likelihood + beforehand(search, &light, determinants)
}

/// How well each sight matches its colour in a cube.
pub(crate) fn matches(search: &Search<'_>, light: &Light, colours: &Colouring) -> Vec<Match> {
    let all = all_told(search, light, 1.0);
    let of = |(sight, told): (&Sight, &[Told; 6])| {
        let own = told[colours[sight.seen.facelet.index()].index()];
        let [plain, besides, _, glare, strange] = own.shares;
        let explained = plain + besides;
        let veil = if light.besides == Besides::Veil { besides } else { 0.0 };
        Match { distance2: own.distance2, explained, glare: glare + veil, strange }
    };
    search.sights.iter().zip(&all).map(of).collect()
}

/// How well a sight matches a colour.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Match {
    /// Squared distance from what is expected, in standard deviations.
    pub(crate) distance2: f64,
    /// Share of it that the light accounts for.
    pub(crate) explained: f64,
    /// Share of it that a lamp's reflection accounts for.
    pub(crate) glare: f64,
    /// Share of it that nothing accounts for.
    pub(crate) strange: f64,
}

/// The change of the light that brings the mean of a camera's samples to the mean of all
/// colours at those places.
pub(crate) fn grey_world(looks: &Appearance, sights: &[Sight], camera: usize) -> DVec3 {
    let own = sights.iter().filter(|sight| sight.seen.camera == camera);
    let off = own.filter_map(|sight| {
        let logs = looks.logs_in(camera, sight.seen.facelet)?;
        Some((sight.weight, sight.seen.log - logs.iter().sum::<DVec3>() / 6.0))
    });
    let (sum, count) =
        off.fold((DVec3::ZERO, 0.0), |(sum, n), (weight, off)| (sum + off * weight, n + weight));
    sum / f64::max(count, 1e-9)
}
