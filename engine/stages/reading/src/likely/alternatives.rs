//! How probable the best cube is beside its alternatives, each in the light that suits it best.
//!
//! The decoder's probabilities hold for one light. Another cube may want another: what was
//! fitted to the best cube is unfair to it. So the next cube in the best light, and the best one of
//! every other explanation, are weighed again, the light fitted to each by itself and integrated
//! over (Laplace's approximation); and all others together in lights drawn from what the samples
//! leave open of the best one.

use dryturn_cube::CubeState;
use dryturn_handoff::RunnerUp;
use dryturn_units::maths;

use super::explained::{Explained, NO_DOUBT, colours_of, same_cube};
use super::fit::{fitted_to, probability_of};
use super::hypothesis::Light;
use super::prior::Moved;
use super::search::Search;

/// What alternatives leave of the best cube.
pub(super) struct Weighed {
    /// How probable the best cube is.
    pub(super) probability: f64,
    pub(super) runner_up: RunnerUp,
}

/// A cube that competes, the odds of the best one against it, and the light that suits it best.
pub(super) struct Rival {
    state: CubeState,
    log_odds: f64,
    light: Light,
}

/// The cubes that compete with the best one: the next one in its light first.
pub(super) fn rivals(search: &Search<'_>, found: &[Explained], best: &Explained) -> Vec<Rival> {
    let decoded = &best.mounted.decoded;
    let of = |explained: &Explained, state: &CubeState, light: &Light| {
        fitted_to(search, light, &colours_of(explained, state))
    };
    let (_, own) = of(best, &decoded.best.state, &best.light);
    let mut rivals: Vec<Rival> = Vec::new();
    // The next one in the best light: fitted to it, it is less far behind.
    let behind = decoded.best.weight - decoded.second.weight;
    let (light, weight) = of(best, &decoded.second.state, &best.light);
    let log_odds = (own - weight).min(behind);
    rivals.push(Rival { state: decoded.second.state, log_odds, light });
    for other in found.iter().filter(|other| !same_cube(other, best)) {
        let state = other.mounted.decoded.best.state;
        let starts = [&other.light, &best.light].map(|light| of(other, &state, light));
        let (light, weight) = starts.into_iter().reduce(heavier).expect("two starts");
        rivals.push(Rival { state, log_odds: own - weight, light });
    }
    rivals
}

/// The most probable rival.
fn nearest(rivals: &[Rival]) -> &Rival {
    let first = rivals.first().expect("there is a next one");
    rivals.iter().fold(first, |a, b| if b.log_odds < a.log_odds { b } else { a })
}

/// The light of a cube that is more probable in it than the best one is in its own.
pub(super) fn better(rivals: &[Rival]) -> Option<&Light> {
    let nearest = nearest(rivals);
    (nearest.log_odds < 0.0).then_some(&nearest.light)
}

/// Weighs the best cube against all others.
pub(super) fn weighed(search: &Search<'_>, best: &Explained, rivals: &[Rival]) -> Weighed {
    let decoded = &best.mounted.decoded;
    // All other cubes, over what the samples leave open of the best light; the next one in the
    // light that suits it best is not less probable than that has it.
    let colours = colours_of(best, &decoded.best.state);
    let pinned = best.light.moved == Moved::Not && 1.0 - decoded.probability() < NO_DOUBT;
    let alone = if pinned {
        decoded.probability()
    } else {
        probability_of(search, &best.light, &colours).min(decoded.probability())
    };
    let rest = (1.0 - alone).max(0.0) / alone.max(1e-300);
    let mut odds_against = rest.max(maths::exp(-rivals[0].log_odds));
    for (k, rival) in rivals.iter().enumerate().skip(1) {
        if rivals[..k].iter().all(|earlier| earlier.state != rival.state) {
            odds_against += maths::exp(-rival.log_odds);
        }
    }
    let probability = 1.0 / (1.0 + odds_against);
    let next = nearest(rivals);
    let runner_up = RunnerUp { state: next.state, log_odds: next.log_odds };
    Weighed { probability, runner_up }
}

/// The more probable of two lights, the first of equals.
fn heavier(one: (Light, f64), other: (Light, f64)) -> (Light, f64) {
    if other.1 > one.1 { other } else { one }
}
