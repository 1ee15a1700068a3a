//! The nearest motion of all coasts: what they share, and each one's own angle and speed at the
//! start, by steps of Gauss and Newton that are halved until they gain.

use dryturn_numerics::{Cholesky, Symmetric2, dot, upper_median};
use dryturn_scene::file::SceneFile;
use dryturn_units::radians;

use super::coast::{Coast, OWN, SHARED};
use crate::motor::fit::drawn;

/// Rounds, and how often a step is halved.
const ROUNDS: usize = 30;
const HALVINGS: usize = 6;
/// Small enough a step, in standard errors.
const SMALL: f64 = 1e-4;
/// What angles may be off at the least, rad: an encoder's noise.
const LEAST_OFF_RAD: f64 = 3e-4;
/// At which viscous friction is held against Coulomb friction.
const USUAL_RAD_S: f64 = 50.0;

/// What a coast says of the shared numbers, its own ones eliminated: normal matrix and
/// right-hand side, and what its own ones would change by.
#[derive(Clone, Copy)]
pub(super) struct Part {
    pub(super) normal: [[f64; SHARED]; SHARED],
    pub(super) right: [f64; SHARED],
    own_step: [f64; OWN],
    own_by_shared: [[f64; SHARED]; OWN],
}

/// What the drawing says of the shared numbers.
#[derive(Clone, Copy)]
pub(super) struct Pull {
    pub(super) centre: [f64; SHARED],
    pub(super) sigma: [f64; SHARED],
}

impl Pull {
    /// Viscous friction and detents by half of what is drawn, as in slow logs with currents.
    pub(super) fn of(file: &SceneFile) -> Self {
        let [_, coulomb, viscous, detent] = drawn(file, true);
        // Of viscous friction at a usual speed, and of detents, this share of Coulomb friction.
        let (share, least) = (0.5, 0.02 * coulomb);
        Self {
            centre: [coulomb, viscous, detent],
            sigma: [
                f64::INFINITY,
                (share * viscous).max(least / USUAL_RAD_S),
                (share * detent).max(least),
            ],
        }
    }

    pub(super) fn without(mut self, shared: usize) -> Self {
        self.sigma[shared] = f64::INFINITY;
        self
    }
}

/// The nearest motion of all coasts.
pub(super) struct Fit {
    pub(super) shared: [f64; SHARED],
    pub(super) own: Vec<[f64; OWN]>,
    /// What angles are off, root mean square, rad.
    pub(super) off_rad: f64,
    pub(super) parts: Vec<Part>,
}

/// Fits; `None` where the coasts do not decide it.
pub(super) fn fit(coasts: &[Coast], pull: &Pull) -> Option<Fit> {
    let (mut own, rates): (Vec<[f64; OWN]>, Vec<f64>) = coasts.iter().map(Coast::guess).unzip();
    let mut shared = pull.centre;
    shared[0] = upper_median(rates)?;
    let mut off_rad = radians(0.1);
    let mut cost = self::cost(coasts, &shared, &own, pull, off_rad);
    for round in 0..ROUNDS {
        let parts = parts(coasts, &shared, &own, off_rad)?;
        let step = solved(&parts, pull, &shared, None)?;
        let moved = |share: f64| {
            let next: [f64; SHARED] = core::array::from_fn(|k| shared[k] + share * step[k]);
            let owns: Vec<[f64; OWN]> = own
                .iter()
                .zip(&parts)
                .map(|(own, part)| {
                    core::array::from_fn(|i| {
                        let by: f64 = (0..SHARED).map(|k| part.own_by_shared[i][k] * step[k]).sum();
                        own[i] + share * (part.own_step[i] - by)
                    })
                })
                .collect();
            let cost = self::cost(coasts, &next, &owns, pull, off_rad);
            (next, owns, cost)
        };
        let tried = (0..HALVINGS).map(|half| moved(1.0 / f64::from(1u32 << half)));
        let mut better = tried.filter(|(.., next)| *next <= cost);
        let Some((next, owns, now)) = better.next() else { break };
        let normal = total(&parts, pull);
        let moved: f64 = (0..SHARED)
            .map(|k| (next[k] - shared[k]).abs() * normal[k][k].sqrt())
            .fold(0.0, f64::max);
        (shared, own, cost) = (next, owns, now);
        // What is left says how much it counts; told anew twice.
        if moved < SMALL || round == 4 {
            let spread = rms(coasts, &shared, &own).max(LEAST_OFF_RAD);
            if (spread / off_rad - 1.0).abs() < 0.01 && moved < SMALL {
                break;
            }
            off_rad = spread;
            cost = self::cost(coasts, &shared, &own, pull, off_rad);
        }
    }
    let parts = parts(coasts, &shared, &own, off_rad)?;
    Some(Fit { shared, own, off_rad, parts })
}

/// The own numbers of one coast with the shared ones as they are, or with its own Coulomb
/// friction beside them.
pub(super) fn alone(coast: &Coast, shared: &[f64; SHARED], with_coulomb: bool) -> Option<Fit> {
    let sigma = |k: usize| {
        if with_coulomb && k == 0 { f64::INFINITY } else { 1e-9 * (1.0 + shared[k].abs()) }
    };
    let pull = Pull { centre: *shared, sigma: core::array::from_fn(sigma) };
    fit(core::slice::from_ref(coast), &pull)
}

fn residuals(coast: &Coast, shared: &[f64; SHARED], own: &[f64; OWN]) -> Vec<f64> {
    let seen = coast.motion(shared, own);
    coast.angle_rad.iter().zip(seen).map(|(angle, [found, _])| angle - found).collect()
}

fn rms(coasts: &[Coast], shared: &[f64; SHARED], own: &[[f64; OWN]]) -> f64 {
    let mut taken = SHARED as f64;
    let (mut sum, mut count) = (0.0, 0.0);
    for (coast, own) in coasts.iter().zip(own) {
        let left = residuals(coast, shared, own);
        sum += left.iter().map(|r| r * r).sum::<f64>();
        count += left.len() as f64;
        taken += OWN as f64;
    }
    (sum / (count - taken).max(1.0)).sqrt()
}

fn cost(
    coasts: &[Coast],
    shared: &[f64; SHARED],
    own: &[[f64; OWN]],
    pull: &Pull,
    off_rad: f64,
) -> f64 {
    let squares = coasts.iter().zip(own).map(|(coast, own)| {
        residuals(coast, shared, own).iter().map(|r| r * r).sum::<f64>() / (off_rad * off_rad)
    });
    let drawn = (0..SHARED).map(|k| {
        let off = (shared[k] - pull.centre[k]) / pull.sigma[k];
        off * off
    });
    squares.sum::<f64>() + drawn.sum::<f64>()
}

fn parts(
    coasts: &[Coast],
    shared: &[f64; SHARED],
    own: &[[f64; OWN]],
    off_rad: f64,
) -> Option<Vec<Part>> {
    coasts.iter().zip(own).map(|(coast, own)| part(coast, shared, own, off_rad)).collect()
}

fn part(coast: &Coast, shared: &[f64; SHARED], own: &[f64; OWN], off_rad: f64) -> Option<Part> {
    let here = coast.motion(shared, own);
    let with = |number: usize| {
        let (mut shared, mut own) = (*shared, *own);
        let value = if number < SHARED { &mut shared[number] } else { &mut own[number - SHARED] };
        // A thousandth of a usual size: rad/s², 1/s, rad/s², rad, rad/s.
        let step = [1.0, 1e-2, 1.0, 1e-4, 1e-2][number];
        *value += step;
        let moved = coast.motion(&shared, &own);
        let slope = |(a, b): (&[f64; 2], &[f64; 2])| (b[0] - a[0]) / (step * off_rad);
        here.iter().zip(&moved).map(slope).collect::<Vec<f64>>()
    };
    let columns: Vec<Vec<f64>> = (0..SHARED + OWN).map(with).collect();
    let left: Vec<f64> = coast
        .angle_rad
        .iter()
        .zip(&here)
        .map(|(angle, [found, _])| (angle - found) / off_rad)
        .collect();
    let (a, b) = (&columns[SHARED], &columns[SHARED + 1]);
    // Of the coast's own two numbers.
    let own_ones = Symmetric2 { xx: dot(a, a), xy: dot(a, b), yy: dot(b, b) };
    let determinant = own_ones.determinant();
    if determinant <= 0.0 || !determinant.is_finite() {
        return None;
    }
    let own_step = own_ones.solve([dot(a, &left), dot(b, &left)]);
    let by: Vec<[f64; OWN]> =
        (0..SHARED).map(|k| own_ones.solve([dot(a, &columns[k]), dot(b, &columns[k])])).collect();
    let own_by_shared = core::array::from_fn(|i| core::array::from_fn(|k| by[k][i]));
    let rest =
        |k: usize, own: &[f64; OWN]| own[0] * dot(a, &columns[k]) + own[1] * dot(b, &columns[k]);
    let normal = core::array::from_fn(|i| {
        core::array::from_fn(|j| dot(&columns[i], &columns[j]) - rest(i, &by[j]))
    });
    let right = core::array::from_fn(|k| dot(&columns[k], &left) - rest(k, &own_step));
    Some(Part { normal, right, own_step, own_by_shared })
}

/// The normal matrix of all, with what the drawing says.
fn total(parts: &[Part], pull: &Pull) -> [[f64; SHARED]; SHARED] {
    let mut normal = [[0.0; SHARED]; SHARED];
    for part in parts {
        (0..SHARED).for_each(|i| (0..SHARED).for_each(|j| normal[i][j] += part.normal[i][j]));
    }
    (0..SHARED).for_each(|k| normal[k][k] += 1.0 / (pull.sigma[k] * pull.sigma[k]));
    normal
}

/// By how much the shared numbers are to be moved, without one of the coasts where asked.
pub(super) fn solved(
    parts: &[Part],
    pull: &Pull,
    shared: &[f64; SHARED],
    without: Option<usize>,
) -> Option<[f64; SHARED]> {
    let kept: Vec<Part> =
        parts.iter().enumerate().filter(|(k, _)| Some(*k) != without).map(|(_, p)| *p).collect();
    let mut right: [f64; SHARED] = core::array::from_fn(|k| kept.iter().map(|p| p.right[k]).sum());
    (0..SHARED).for_each(|k| {
        right[k] += (pull.centre[k] - shared[k]) / (pull.sigma[k] * pull.sigma[k]);
    });
    let inverse = inverse(&total(&kept, pull))?;
    Some(core::array::from_fn(|i| (0..SHARED).map(|k| inverse[i][k] * right[k]).sum()))
}

/// Covariance of the shared numbers, as far as residuals tell.
pub(super) fn covariance(parts: &[Part], pull: &Pull) -> Option<[[f64; SHARED]; SHARED]> {
    inverse(&total(parts, pull))
}

fn inverse(matrix: &[[f64; SHARED]; SHARED]) -> Option<[[f64; SHARED]; SHARED]> {
    // Scaled first: the numbers have sizes of their own.
    let scale: [f64; SHARED] = core::array::from_fn(|k| 1.0 / matrix[k][k].sqrt());
    let scaled = (0..SHARED * SHARED).map(|at| {
        let (i, j) = (at / SHARED, at % SHARED);
        matrix[i][j] * scale[i] * scale[j]
    });
    let inverse = Cholesky::of(scaled.collect(), SHARED)?.inverse();
    let value = |i: usize, k: usize| inverse[i * SHARED + k] * scale[i] * scale[k];
    Some(core::array::from_fn(|i| core::array::from_fn(|k| value(i, k))))
}
