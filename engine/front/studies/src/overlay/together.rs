//! All figures fitted together, and from there all sets of them.

use dryturn_scene::Scene;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use super::joint::{Solution, solved};
use super::model::{Model, Response};
use super::refine::{Refined, refined};
use super::rigs::Spread;
use super::search::{PRIOR, Point, Search};

/// Rigs that are run round the best values.
const RIGS: u64 = 128;
/// Steps of the joint fit of all figures, first and again; shares of a step that are tried; a
/// gain that is worth another; and the change in a coordinate that derivatives are taken over.
const JOINT_ROUNDS: [usize; 2] = [1, 2];
const JOINT_SHARES: [f64; 2] = [1.0, 0.4];
const JOINT_GAIN: f64 = 1.0;
const APART: f64 = 0.3;
/// All figures together.
pub(super) struct Joint {
    pub(super) best: Point,
    pub(super) columns: Vec<Vec<f64>>,
    pub(super) solution: Solution,
}

/// What is left changes so with each figure at a point.
fn columns(search: &Search<'_>, from: &Point) -> Vec<Vec<f64>> {
    let ends = search.ends();
    let apart = |figure: usize, way: f64| {
        let mut at = from.at.clone();
        let [low, high] = ends[figure];
        at[figure] = (at[figure] + way * APART).clamp(low, high);
        search.point(&at)
    };
    let column = |figure: usize| {
        let both = [apart(figure, -1.0), apart(figure, 1.0)];
        let [Some(below), Some(above)] = both else {
            return search.column(figure, from.at[figure]);
        };
        let by = (above.at[figure] - below.at[figure]).max(1e-9);
        above.left.iter().zip(&below.left).map(|(a, b)| (a - b) / by).collect()
    };
    (0..from.at.len()).into_par_iter().map(carried(column)).collect()
}

impl Joint {
    /// From a point on.
    fn of(search: &Search<'_>, start: Point, rounds: usize) -> Option<Self> {
        let ends = search.ends();
        let mut best = start;
        let mut own = columns(search, &best);
        for _ in 0..rounds {
            let found = solved(&best.at, &best.left, &own, PRIOR)?;
            let step = |share: f64| {
                let to = best.at.iter().zip(&found.at).zip(&ends);
                let at: Vec<f64> = to
                    .map(|((from, to), [low, high])| {
                        (from + share * (to - from)).clamp(*low, *high)
                    })
                    .collect();
                search.point(&at)
            };
            let tried: Vec<Point> = JOINT_SHARES.iter().filter_map(|share| step(*share)).collect();
            let Some(next) = tried.into_iter().min_by(|a, b| a.cost().total_cmp(&b.cost())) else {
                break;
            };
            let gain = best.cost() - next.cost();
            if gain > 0.0 {
                best = next;
            }
            // After less than that the derivatives are as they were.
            if gain >= JOINT_GAIN {
                own = columns(search, &best);
            }
            if gain < JOINT_GAIN {
                break;
            }
        }
        let found = solved(&best.at, &best.left, &own, PRIOR)?;
        let solution = Solution { at: best.at.clone(), covariance: found.covariance };
        Some(Self { best, columns: own, solution })
    }
}

/// All figures, and all sets, fitted round one place.
pub(super) struct Attempt {
    /// What rigs differ there.
    pub(super) spread: Spread,
    pub(super) joint: Joint,
    pub(super) fits: Vec<Refined>,
}

impl Attempt {
    /// From a point on, the sets from points of theirs; `scene` is the drawn one, with what its
    /// rigs differ.
    pub(super) fn of(
        (model, effects): (&Model<'_>, &[Response]),
        (scene, first): (&Scene, &Spread),
        start: Point,
        seeds: &[(Vec<usize>, Point)],
    ) -> Option<Self> {
        let search = Search::new(model, first, effects);
        let joint = Joint::of(&search, search.again(&start), JOINT_ROUNDS[0])?;
        // What rigs differ is looked at again where the log is.
        let there = model.scene(&joint.best.at)?;
        let spread = Spread::of(model, &there, RIGS).or_else(|| Spread::of(model, scene, RIGS))?;
        let search = Search::new(model, &spread, effects);
        let joint = Joint::of(&search, search.again(&joint.best), JOINT_ROUNDS[1])?;
        let begun = |(set, point): &(Vec<usize>, Point)| {
            let own = (set.clone(), search.again(point));
            Refined::new(&search, own, (&joint.best, &joint.columns))
        };
        let fits = refined(&search, seeds.iter().map(begun).collect());
        Some(Self { spread, joint, fits })
    }

    /// The point that costs least.
    pub(super) fn nearest(&self) -> Option<&Point> {
        let points = self.fits.iter().map(|fit| &fit.best).chain([&self.joint.best]);
        points.min_by(|a, b| a.cost().total_cmp(&b.cost()))
    }

    /// The least chi-square.
    pub(super) fn least(&self) -> f64 {
        let all = self.fits.iter().map(|fit| fit.best.chi_square());
        all.fold(self.joint.best.chi_square(), f64::min)
    }
}
