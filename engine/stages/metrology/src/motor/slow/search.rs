//! The search: which start, then how large what is left is, then the nearest.

use dryturn_units::radians;

use super::drawn::Drawn;
use super::fit::{Guess, Problem, Pull, Seen};
use super::guess::Own;
use super::model::{MAIN, SHARED, Trip, units};

/// So many of the best starts are followed further.
const FOLLOWED: usize = 2;
/// What angles and currents (over the largest) may be off while starts are compared, degrees
/// and share.
const FIRST_SIGMAS: (f64, f64) = (0.06, 0.03);
/// At the least: the noise of an encoder and a current sensor.
const LEAST_SIGMAS: (f64, f64) = (0.02, 0.004);
/// Residuals are larger by what the fit has taken of them.
const TAKEN_RATIO: f64 = 1.15;
const ROUNDS: usize = 2;
/// What is not told is drawn towards its drawing: viscous friction and detents by these shares
/// of what is drawn, viscous friction by this share of Coulomb friction at the least.
const DRAWN_SHARE: f64 = 0.5;
const LEAST_VISCOUS: f64 = 0.02;
/// No pull.
pub(super) const FREE_SIGMA: f64 = 1e3;
/// How far the share of torque may be from the first guess, in its units.
const TORQUE_SIGMA: f64 = 3.0;

/// Where the drawing pulls to.
pub(super) fn pull(drawn: &Drawn) -> Pull {
    let unit = units(drawn);
    let mut centre = [0.0; SHARED];
    let mut sigma = [1.0; SHARED];
    centre[..MAIN].copy_from_slice(&[
        1.0,
        1.0,
        drawn.viscous_n_m_s / unit[2],
        drawn.detent_n_m / unit[3],
    ]);
    sigma[..MAIN].copy_from_slice(&[
        FREE_SIGMA,
        FREE_SIGMA,
        (DRAWN_SHARE * centre[2]).max(LEAST_VISCOUS),
        (DRAWN_SHARE * centre[3]).max(LEAST_VISCOUS),
    ]);
    sigma[SHARED - 1] = TORQUE_SIGMA;
    Pull { centre, sigma }
}

/// What was found.
pub(super) struct Found {
    pub(super) guess: Guess,
    pub(super) seen: Seen,
    /// The start that it came from.
    pub(super) first: Vec<Own>,
    pub(super) sigmas: [f64; 2],
}

/// Largest current.
pub(super) fn largest_a(trips: &[Trip]) -> f64 {
    let currents = trips.iter().flat_map(|trip| &trip.cut.current_a);
    currents.fold(0.0, |most: f64, current| most.max(current.abs()))
}

/// Root mean squares of the residuals of angles and of currents, in their sigmas.
pub(super) fn spreads(trips: &[Trip], seen: &Seen) -> [f64; 2] {
    let mut sums = [(0.0, 0.0); 2];
    for (trip, left) in trips.iter().zip(&seen.residuals) {
        for (k, r) in left.iter().enumerate() {
            let sum = &mut sums[usize::from(k >= trip.rows.1 - trip.rows.0)];
            *sum = (sum.0 + r * r, sum.1 + 1.0);
        }
    }
    sums.map(|(sum, count): (f64, f64)| (sum / count.max(1.0)).sqrt())
}

/// The nearest of all starts.
pub(super) fn search(drawn: &Drawn, trips: &[Trip], starts: Vec<Vec<Own>>) -> Option<Found> {
    let pull = pull(drawn);
    let largest = largest_a(trips);
    fn problem<'a>(
        (drawn, trips, pull): (&'a Drawn, &'a [Trip], Pull),
        sigmas: [f64; 2],
        first: &'a [Own],
    ) -> Problem<'a> {
        Problem { drawn, trips, sigmas, pull, free: [true; SHARED], first }
    }
    let of = (drawn, trips, pull);
    let coarse = [radians(FIRST_SIGMAS.0), FIRST_SIGMAS.1 * largest];
    let begun = |guess: Guess, first: Vec<Own>| {
        let (guess, seen) = problem(of, coarse, &first).begun(guess)?;
        Some((seen.cost, guess, first))
    };
    let mut all: Vec<(f64, Guess, Vec<Own>)> = starts
        .into_iter()
        .filter_map(|own| begun(Guess { shared: pull.centre, own: own.clone() }, own))
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let again = all.into_iter().take(FOLLOWED).filter_map(|(_, guess, own)| begun(guess, own));
    let (_, mut guess, first) = again.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let mut sigmas = coarse;
    for _ in 0..ROUNDS {
        let (next, seen) = problem(of, sigmas, &first).solved(guess)?;
        guess = next;
        let spread = spreads(trips, &seen);
        let least = [radians(LEAST_SIGMAS.0), LEAST_SIGMAS.1 * largest];
        sigmas = [0, 1].map(|k| (sigmas[k] * spread[k] * TAKEN_RATIO).max(least[k]));
    }
    let (guess, seen) = problem(of, sigmas, &first).solved(guess)?;
    Some(Found { guess, seen, first, sigmas })
}
