//! The best values of any set of figures.
//!
//! What figures change together is first taken for the sum of what each changes by itself;
//! from the best sum the true run is simulated, the sum corrected by what it missed there, and
//! so on. Sets that stay far behind the best are dropped on the way.

use dryturn_numerics::dot;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use super::joint::solved;
use super::model::{Model, Response};
use super::rigs::Spread;

/// Weight of the prior, for one coordinate.
pub(super) const PRIOR: f64 = 1.0;
/// Before the first true run and the second a set is dropped whose chi-square is above the best
/// by so much, and by such a share of what the drawn figures leave above it.
const DROPPED_ABOVE: [(f64, f64); 2] = [(1000.0, 0.3), (600.0, 0.12)];
/// Steps within the sum, and halvings of one.
const STEPS: usize = 12;
const HALVINGS: usize = 6;
/// A better sum of squares by less than this is no better.
const LEAST_GAIN: f64 = 0.02;

/// A point whose run was simulated.
#[derive(Clone, Debug)]
pub(super) struct Point {
    /// Coordinates of all figures.
    pub(super) at: Vec<f64>,
    /// By how much the log differs there.
    pub(super) off: Vec<f64>,
    /// The same, whitened, without what all rigs are off.
    pub(super) left: Vec<f64>,
}

impl Point {
    pub(super) fn chi_square(&self) -> f64 {
        dot(&self.left, &self.left)
    }

    /// With what the prior holds against it.
    pub(super) fn cost(&self) -> f64 {
        self.chi_square() + PRIOR * dot(&self.at, &self.at)
    }
}

/// A set with its best point so far.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    pub(super) set: Vec<usize>,
    pub(super) best: Point,
    /// Where to simulate next, and the sum's chi-square there.
    next: Option<(Vec<f64>, f64)>,
}

/// The model with its spread and its sums.
pub(super) struct Search<'a> {
    pub(super) model: &'a Model<'a>,
    pub(super) spread: &'a Spread,
    pub(super) whitened: Vec<Response>,
}

impl<'a> Search<'a> {
    pub(super) fn new(model: &'a Model<'a>, spread: &'a Spread, effects: &[Response]) -> Self {
        let whitened = effects.iter().map(|own| own.map(|off| spread.whitened(off))).collect();
        Self { model, spread, whitened }
    }

    /// The point at coordinates; `None` where the rig does not get so far.
    pub(super) fn point(&self, at: &[f64]) -> Option<Point> {
        let off = self.model.off(at)?;
        Some(Point { at: at.to_vec(), left: self.spread.left(&off), off })
    }

    /// Of all figures, the ends of their ranges.
    pub(super) fn ends(&self) -> Vec<[f64; 2]> {
        self.whitened.iter().map(Response::ends).collect()
    }

    /// A point of another search, with this one's spread.
    pub(super) fn again(&self, point: &Point) -> Point {
        Point { left: self.spread.left(&point.off), ..point.clone() }
    }

    /// What the sum, right at a point, leaves at coordinates.
    fn summed(&self, from: &Point, set: &[usize], at: &[f64]) -> Vec<f64> {
        let mut left = from.left.clone();
        for &figure in set {
            self.whitened[figure].add(from.at[figure], 1.0, &mut left);
            self.whitened[figure].add(at[figure], -1.0, &mut left);
        }
        left
    }

    fn cost(left: &[f64], set: &[usize], at: &[f64]) -> f64 {
        dot(left, left) + PRIOR * set.iter().map(|&k| at[k] * at[k]).sum::<f64>()
    }

    /// What is left changes so with a figure.
    pub(super) fn column(&self, figure: usize, at: f64) -> Vec<f64> {
        self.whitened[figure].slope(at).into_iter().map(|slope| -slope).collect()
    }

    /// The best of all combinations of the values that were looked at.
    fn coarse(&self, from: &Point, set: &[usize]) -> Vec<f64> {
        let mut best = (f64::INFINITY, from.at.clone());
        let mut at = from.at.clone();
        let mut base = from.left.clone();
        for &figure in set {
            self.whitened[figure].add(from.at[figure], 1.0, &mut base);
        }
        self.combine(set, 0, &base, &mut at, &mut best);
        best.1
    }

    fn combine(
        &self,
        set: &[usize],
        held: usize,
        left: &[f64],
        at: &mut Vec<f64>,
        best: &mut (f64, Vec<f64>),
    ) {
        let Some(&figure) = set.get(held) else {
            let cost = Self::cost(left, set, at);
            if cost < best.0 {
                *best = (cost, at.clone());
            }
            return;
        };
        for (own, effect) in &self.whitened[figure].points {
            at[figure] = *own;
            let rest: Vec<f64> = left.iter().zip(effect).map(|(a, b)| a - b).collect();
            self.combine(set, held + 1, &rest, at, best);
        }
    }

    /// The best point of the sum from coordinates on, with its chi-square.
    fn refined(&self, from: &Point, set: &[usize], start: Vec<f64>) -> (Vec<f64>, f64) {
        let mut at = start;
        let mut left = self.summed(from, set, &at);
        let mut cost = Self::cost(&left, set, &at);
        for _ in 0..STEPS {
            let own: Vec<f64> = set.iter().map(|&k| at[k]).collect();
            let columns: Vec<Vec<f64>> = set.iter().map(|&k| self.column(k, at[k])).collect();
            let Some(found) = solved(&own, &left, &columns, PRIOR) else { break };
            let mut share = 1.0;
            let mut better = false;
            for _ in 0..HALVINGS {
                let mut then = at.clone();
                for (slot, &k) in set.iter().enumerate() {
                    let [low, high] = self.whitened[k].ends();
                    then[k] = (at[k] + share * (found.at[slot] - at[k])).clamp(low, high);
                }
                let rest = self.summed(from, set, &then);
                let own = Self::cost(&rest, set, &then);
                if own < cost - LEAST_GAIN {
                    (at, left, cost, better) = (then, rest, own, true);
                    break;
                }
                share *= 0.5;
            }
            if !better {
                break;
            }
        }
        let chi_square = dot(&left, &left);
        (at, chi_square)
    }

    /// The best points of sets, those that stay far behind left out; `drawn` is the point as
    /// drawn.
    pub(super) fn fits(&self, sets: Vec<Vec<usize>>, drawn: &Point) -> Vec<Fit> {
        let first = |set: Vec<usize>| {
            let next = self.refined(drawn, &set, self.coarse(drawn, &set));
            Fit { set, best: drawn.clone(), next: Some(next) }
        };
        let mut fits: Vec<Fit> = sets.into_par_iter().map(carried(first)).collect();
        for (above, share) in DROPPED_ABOVE {
            let promised = |fit: &Fit| {
                let own = fit.best.chi_square();
                fit.next.as_ref().map_or(own, |(_, chi_square)| chi_square.min(own))
            };
            let best = fits.iter().map(promised).fold(f64::INFINITY, f64::min);
            let most = best + above + share * (drawn.chi_square() - best).max(0.0);
            fits.retain(|fit| promised(fit) <= most);
            fits = fits.into_par_iter().map(carried(|fit| self.gone_on(fit))).collect();
        }
        fits
    }

    /// Points to start every set from that fits lead to: its own; that of a set within it, where
    /// that is better; where it has none of its own, that of the best set that holds one figure
    /// more, with that one as drawn.
    pub(super) fn seeded(&self, sets: &[Vec<usize>], fits: &[Fit]) -> Vec<(Vec<usize>, Point)> {
        let holds = |large: &[usize], small: &[usize]| small.iter().all(|k| large.contains(k));
        let best = |of: &dyn Fn(&&Fit) -> bool| {
            let own = fits.iter().filter(of);
            own.min_by(|a, b| a.best.cost().total_cmp(&b.best.cost()))
        };
        let seeds = |set: &Vec<usize>| -> Vec<(Vec<usize>, Point)> {
            let own = best(&|fit| fit.set == *set).map(|fit| fit.best.clone());
            let cost = own.as_ref().map_or(f64::INFINITY, Point::cost);
            let within = best(&|fit| fit.set.len() < set.len() && holds(set, &fit.set))
                .map(|fit| fit.best.clone())
                .filter(|point| point.cost() < cost);
            let larger = if own.is_some() {
                None
            } else {
                best(&|fit| fit.set.len() == set.len() + 1 && holds(&fit.set, set))
            };
            let without = larger.and_then(|fit| {
                let mut at = fit.best.at.clone();
                fit.set.iter().filter(|k| !set.contains(k)).for_each(|&k| at[k] = 0.0);
                self.point(&at)
            });
            let all = own.into_iter().chain(within).chain(without);
            all.map(|point| (set.clone(), point)).collect()
        };
        sets.par_iter().map(carried(seeds)).collect::<Vec<_>>().into_iter().flatten().collect()
    }

    /// One more true run.
    fn gone_on(&self, fit: Fit) -> Fit {
        let Fit { set, best, next } = fit;
        let Some((at, promised)) = next else { return Fit { set, best, next: None } };
        let halfway = |a: &[f64], b: &[f64]| -> Vec<f64> {
            a.iter().zip(b).map(|(a, b)| 0.5 * (a + b)).collect()
        };
        match self.point(&at) {
            Some(found) if found.cost() < best.cost() - LEAST_GAIN => {
                let (then, chi_square) = self.refined(&found, &set, found.at.clone());
                let moved = then.iter().zip(&found.at).any(|(a, b)| (a - b).abs() > 1e-3);
                let next =
                    (moved && chi_square < found.chi_square() - 0.1).then_some((then, chi_square));
                Fit { set, best: found, next }
            }
            _ => {
                let at = halfway(&at, &best.at);
                let far = at.iter().zip(&best.at).any(|(a, b)| (a - b).abs() > 0.02);
                Fit { next: far.then_some((at, promised)), set, best }
            }
        }
    }
}
