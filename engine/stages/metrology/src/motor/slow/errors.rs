//! How surely the shared numbers are known.
//!
//! Moves are the independent witnesses: what a simulation does not know differs from move
//! to move, and samples fall elsewhere in each. Each move in turn is left out, in one step
//! of the fit (the jackknife: J. W. Tukey, Ann. Math. Stat. 29, 1958; linearised); what is
//! drawn only so surely adds its own; and so does what a simulation leaves out in all moves
//! alike. No less than residuals would give that are each a witness. All from memory.

use dryturn_numerics::regression::jackknife_variances;
use dryturn_numerics::{Cholesky, condition};

use super::fit::{Guess, Problem, Seen};
use super::model::{MAIN, SHARED};

/// What a simulation leaves out (a bus that sags, cogging, friction's course) is worth so
/// much of inertia, Coulomb friction, viscous friction and detents, as a standard deviation
/// (assumed; seen on simulated rigs).
const LEFT_OUT: [f64; MAIN] = [0.007, 0.02, 0.05, 0.05];

/// And errors by moves come out too small: eight moves are few, some tell far more than others,
/// and the fit's steps are linear. While the bus was taken as drawn, what was found was off by
/// 1.2 to 1.6 of them (root mean square). Wide rather than narrow: of 897 simulated rigs the
/// intervals held inertia in all but one, and friction in all but one.
const TOO_SMALL_RATIO: f64 = 1.35;

/// Variances of the shared numbers, and how much the first of them are alike: the largest
/// over the smallest axis of what the fit leaves open, scaled.
pub(super) struct Errors {
    pub(super) variances: Vec<f64>,
    pub(super) condition_ratio: f64,
}

/// At the nearest.
pub(super) fn errors(problem: &Problem<'_>, guess: &Guess, seen: &Seen) -> Option<Errors> {
    let count = problem.trips.len();
    let parts = (0..count).map(|m| problem.part(guess, seen, m, 0.0));
    let parts = parts.collect::<Option<Vec<_>>>()?;
    let (normal, _) = problem.whole(parts.iter(), &guess.shared);
    let whole = Cholesky::of(normal, SHARED)?;
    let inverse: Vec<Vec<f64>> = (0..SHARED).map(|k| whole.inverse_column(k)).collect();
    let mut by_move = vec![0.0; SHARED];
    if count > 2 {
        let mut without = Vec::with_capacity(count);
        for out in 0..count {
            let others = parts.iter().enumerate().filter(|(m, _)| *m != out).map(|(_, part)| part);
            let (normal, right) = problem.whole(others, &guess.shared);
            without.push(Cholesky::of(normal, SHARED)?.solve(&right));
        }
        by_move = jackknife_variances(&without, SHARED);
    }
    let left_out: [f64; MAIN] = core::array::from_fn(|k| LEFT_OUT[k] * guess.shared[k]);
    Some(Errors::of(&inverse, &problem.pull.sigma, &by_move, &left_out))
}

impl Errors {
    /// From what the fit leaves open (the inverse of its equations, row by row), standard
    /// deviations by which numbers are drawn towards their drawing, variances by leaving out
    /// witnesses, and, of the first numbers, what the model leaves out.
    pub(super) fn of<R: AsRef<[f64]>>(
        inverse: &[R],
        sigma: &[f64],
        by_witness: &[f64],
        left_out: &[f64],
    ) -> Self {
        let at = |i: usize, j: usize| inverse[i].as_ref()[j];
        let size = inverse.len();
        let variance = |k: usize| {
            let drawn: f64 = (0..size).map(|i| (at(k, i) / sigma[i]) * (at(k, i) / sigma[i])).sum();
            let out = left_out.get(k).copied().unwrap_or(0.0);
            let seen = (by_witness[k] + drawn).max(at(k, k));
            TOO_SMALL_RATIO * TOO_SMALL_RATIO * seen + out * out
        };
        let main = left_out.len();
        let alike: Vec<f64> = (0..main * main)
            .map(|place| {
                let (i, j) = (place / main, place % main);
                at(i, j) / (at(i, i) * at(j, j)).sqrt()
            })
            .collect();
        Self {
            variances: (0..size).map(variance).collect(),
            condition_ratio: condition(&alike, main),
        }
    }
}
