//! Sets of figures fitted near where all of them together fit: steps of J. Gauss and C. Newton
//! with the derivatives there, corrected by what each run shows (C. G. Broyden, Math. Comp. 19,
//! 1965; from memory).
//!
//! Sets that explain a log equally well bring the rig to the same motion, and what a figure
//! changes depends on that motion: so the derivatives of one serve for all.

use dryturn_numerics::dot;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use super::joint::{Solution, solved};
use super::search::{PRIOR, Point, Search};

/// After so many runs a set is dropped whose chi-square is so much above the best.
const DROPPED_ABOVE: [f64; 7] = [2000.0, 1000.0, 400.0, 150.0, 80.0, 50.0, 50.0];
/// No coordinate moves by more than this in one step.
const LONGEST_STEP: f64 = 1.5;
/// A step that gains less than this in the sum of squares is not made.
const LEAST_GAIN: f64 = 0.05;
/// What changes less, in squares of what rigs differ, does nothing.
pub(super) const LEAST_EFFECT: f64 = 1.0;
/// A coordinate that moves less does not move.
const SHORTEST_STEP: f64 = 2e-3;

/// A set while it is fitted.
#[derive(Clone, Debug)]
pub(super) struct Refined {
    /// Numbers of its figures, rising.
    pub(super) set: Vec<usize>,
    pub(super) best: Point,
    /// What is left changes so with each figure, as looked at where all figures fit together.
    together: Vec<Vec<f64>>,
    /// The same, corrected by what runs showed.
    columns: Vec<Vec<f64>>,
    /// The longest step now, and whether there is no better one.
    longest: f64,
    settled: bool,
}

impl Refined {
    /// From a set's best point so far, where all figures together fit at `joint` with those
    /// derivatives. A figure that is far from there, or does nothing there, has the derivative
    /// of its own effect.
    pub(super) fn new(
        search: &Search<'_>,
        (set, best): (Vec<usize>, Point),
        (joint, all): (&Point, &[Vec<f64>]),
    ) -> Self {
        let column = |&k: &usize| {
            let far = (best.at[k] - joint.at[k]).abs() > LONGEST_STEP;
            let own = if far || dot(&all[k], &all[k]) < LEAST_EFFECT {
                search.column(k, best.at[k])
            } else {
                all[k].clone()
            };
            // One that does nothing at all stays.
            if own.is_empty() { all[k].clone() } else { own }
        };
        let columns: Vec<Vec<f64>> = set.iter().map(column).collect();
        let together = columns.clone();
        Self { set, best, together, columns, longest: LONGEST_STEP, settled: false }
    }

    /// What is left changes so with its figure in a place.
    pub(super) fn column(&self, slot: usize) -> &[f64] {
        &self.together[slot]
    }

    /// Errors and correlations at its best point.
    pub(super) fn solution(&self) -> Option<Solution> {
        let at: Vec<f64> = self.set.iter().map(|&k| self.best.at[k]).collect();
        let found = solved(&at, &self.best.left, &self.together, PRIOR)?;
        // Where more is left than rigs differ, errors are larger too.
        let freedom = self.best.left.len().saturating_sub(self.set.len()).max(1) as f64;
        let scale = (self.best.chi_square() / freedom).max(1.0);
        let covariance = found.covariance.iter().map(|value| value * scale).collect();
        Some(Solution { at, covariance })
    }

    /// The next point within the ranges, and what is left there as far as the derivatives
    /// tell: figures that come to the end of their range stay there, and the others are
    /// solved again.
    fn next(&self, ends: &[[f64; 2]]) -> Option<(Vec<f64>, f64)> {
        let mut at = self.best.at.clone();
        let mut left = self.best.left.clone();
        let mut open: Vec<usize> = (0..self.set.len()).collect();
        while !open.is_empty() {
            let own: Vec<f64> = open.iter().map(|&slot| at[self.set[slot]]).collect();
            let columns: Vec<Vec<f64>> =
                open.iter().map(|&slot| self.columns[slot].clone()).collect();
            let found = solved(&own, &left, &columns, PRIOR)?;
            let reach = |slot: usize| {
                let k = self.set[slot];
                let [low, high] = ends[k];
                let from = self.best.at[k];
                [low.max(from - self.longest), high.min(from + self.longest)]
            };
            let stuck: Vec<(usize, f64)> = open
                .iter()
                .zip(&found.at)
                .filter_map(|(&slot, &wanted)| {
                    let [low, high] = reach(slot);
                    (wanted < low || wanted > high).then(|| (slot, wanted.clamp(low, high)))
                })
                .collect();
            let moves: Vec<(usize, f64)> =
                if stuck.is_empty() { open.iter().copied().zip(found.at).collect() } else { stuck };
            for &(slot, to) in &moves {
                let k = self.set[slot];
                for (sum, change) in left.iter_mut().zip(&self.columns[slot]) {
                    *sum += change * (to - at[k]);
                }
                at[k] = to;
            }
            open.retain(|slot| moves.iter().all(|(own, _)| own != slot));
        }
        let cost = dot(&left, &left) + PRIOR * dot(&at, &at);
        Some((at, cost))
    }

    fn promised(&self, ends: &[[f64; 2]]) -> f64 {
        let now = self.best.cost();
        let next = if self.settled { None } else { self.next(ends) };
        next.map_or(now, |(_, cost)| cost.min(now))
    }

    /// One more run.
    fn gone_on(mut self, search: &Search<'_>, ends: &[[f64; 2]]) -> Self {
        if self.settled {
            return self;
        }
        let Some((at, promised)) = self.next(ends) else { return Self { settled: true, ..self } };
        let step: Vec<f64> = self.set.iter().map(|&k| at[k] - self.best.at[k]).collect();
        let length = step.iter().map(|own| own.abs()).fold(0.0, f64::max);
        if length < SHORTEST_STEP || promised > self.best.cost() - LEAST_GAIN {
            return Self { settled: true, ..self };
        }
        let Some(point) = search.point(&at) else {
            return Self { longest: 0.5 * length, ..self };
        };
        let square = dot(&step, &step);
        let missed: Vec<f64> = (0..point.left.len())
            .map(|row| {
                let told: f64 = self.columns.iter().zip(&step).map(|(c, s)| c[row] * s).sum();
                (point.left[row] - self.best.left[row] - told) / square
            })
            .collect();
        for (column, own) in self.columns.iter_mut().zip(&step) {
            for (value, missed) in column.iter_mut().zip(&missed) {
                *value += missed * own;
            }
        }
        if point.cost() < self.best.cost() {
            self.best = point;
            self.longest = (1.5 * self.longest).min(LONGEST_STEP);
        } else {
            self.longest = 0.5 * length;
        }
        self
    }
}

/// Sets fitted as far as they come near the best, each once, from wherever it comes nearest.
pub(super) fn refined(search: &Search<'_>, mut all: Vec<Refined>) -> Vec<Refined> {
    let ends = search.ends();
    for above in DROPPED_ABOVE {
        let best = all.iter().map(|own| own.promised(&ends)).fold(f64::INFINITY, f64::min);
        all.retain(|own| own.promised(&ends) <= best.max(0.0) + above);
        all = all.into_par_iter().map(carried(|own: Refined| own.gone_on(search, &ends))).collect();
    }
    all.sort_by(|a, b| a.set.cmp(&b.set).then(a.best.cost().total_cmp(&b.best.cost())));
    all.dedup_by(|a, b| a.set == b.set);
    all
}
