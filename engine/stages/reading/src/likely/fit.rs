//! Follows a change of the light to where it explains what is seen best, in turn with how
//! probable each colour is at each facelet (expectation and maximisation).

use dryturn_cube::{Colouring, Facelet};
use dryturn_geometry::DVec3;
use dryturn_units::maths;
use dryturn_units::noise::Seed;
use dryturn_units::stop::checkpoint;

use super::equations::Equations;
use super::explained::Explained;
use super::hypothesis::Light;
use super::light::{Change, second_blocks, veil_blocks};
use super::search::{Search, Sight};
use super::states::{Besides, Given, Rates, Told, WAYS, told};
use crate::decoder::Evidence;

/// Rounds of the fit, and the step of all unknowns at which it has settled.
const MOST_ROUNDS: usize = 16;
const ROUNDS_OF_A_CUBE: usize = 5;
const SETTLED: f64 = 0.012;
/// How much wider than they are the classes are taken in the first rounds.
const WIDER: [f64; 3] = [16.0, 4.0, 2.0];

/// How many lights are drawn from what a cube's samples leave open of it.
const DRAWS: u64 = 12;

/// What each sight says of each colour under a light.
pub(super) fn all_told(search: &Search<'_>, light: &Light, wider: f64) -> Vec<[Told; 6]> {
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
    let known = search.beforehand(light.moved, camera);
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
            let [own, second, veil] = told.mixed;
            let [has_second, has_veil] = light.besides.has();
            let mut both: Vec<(usize, DVec3)> =
                first.into_iter().map(|(block, part)| (block, own * part)).collect();
            if has_second {
                both.extend(second_blocks(facelet).map(|(block, part)| (block, second * part)));
            }
            if has_veil {
                both.extend(veil_blocks(facelet).map(|(block, part)| (block, veil * part)));
            }
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
pub(super) fn probability_of(search: &Search<'_>, light: &Light, colours: &Colouring) -> f64 {
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
        let known = search.beforehand(light.moved, camera);
        known.log_density(change, count) + known.half_log_determinant(count)
    };
    let prior: f64 = light.changes.iter().enumerate().map(of).sum();
    prior + light.moved.log_probability() + light.rates.log_density() - half_log_determinant
}

/// Follows a change of the light from a start to where it explains the samples best.
pub(super) fn explain(search: &Search<'_>, start: Light, near: bool) -> Explained {
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

/// The light that suits one cube best, sought from `start`, and how probable samples and light are
/// together for that cube.
pub(super) fn fitted_to(search: &Search<'_>, start: &Light, colours: &Colouring) -> (Light, f64) {
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
    let weight = likelihood + beforehand(search, &light, determinants);
    (light, weight)
}
