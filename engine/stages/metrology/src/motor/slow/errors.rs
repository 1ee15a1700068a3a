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
pub(super) const TOO_SMALL_RATIO: f64 = 1.35;

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
    let sigma = &problem.pull.sigma;
    let variance = |k: usize| {
        let drawn: f64 =
            (0..SHARED).map(|i| (inverse[k][i] / sigma[i]) * (inverse[k][i] / sigma[i])).sum();
        let out = LEFT_OUT.get(k).map_or(0.0, |share| share * guess.shared[k]);
        let seen = (by_move[k] + drawn).max(inverse[k][k]);
        TOO_SMALL_RATIO * TOO_SMALL_RATIO * seen + out * out
    };
    let correlation: Vec<f64> = (0..MAIN * MAIN)
        .map(|at| {
            let (i, j) = (at / MAIN, at % MAIN);
            inverse[i][j] / (inverse[i][i] * inverse[j][j]).sqrt()
        })
        .collect();
    Some(Errors {
        variances: (0..SHARED).map(variance).collect(),
        condition_ratio: condition(&correlation, MAIN),
    })
}
