//! How many nodes a plan's search should have: more make a quicker plan, later.

use std::sync::Arc;

use dryturn_planning::Planned;
use dryturn_rehearsal::{Rehearser, StartToStop};
use dryturn_scene::Scene;
use dryturn_statistics::{PairedBootstrap, mean};
use dryturn_units::stop::carried;
use rayon::prelude::*;

use crate::work::{Progress, Watch};

/// Budgets that are tried unless others are given, nodes.
pub const BUDGETS: [u64; 9] = [1000, 2000, 5000, 10_000, 20_000, 50_000, 100_000, 200_000, 500_000];

/// A mean with its 95 % bootstrap interval.
pub type MeanAndInterval = (f64, (f64, f64));

/// What one budget comes to, on average.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetPoint {
    /// Nodes that the search may spend; it always goes on to its first plan.
    pub budget: u64,
    /// Nodes that it spent.
    pub nodes: f64,
    /// Their time on the scene's host, s.
    pub search_s: f64,
    /// Predicted time of the plan, s.
    pub execution_s: f64,
    /// Both together, s.
    pub total_s: MeanAndInterval,
    /// How much more that is than at the best budget, on the same cubes, s.
    pub over_best_s: MeanAndInterval,
}

/// Budgets compared on the same random cubes.
#[derive(Clone, Debug)]
pub struct SearchBudgets {
    /// Whose drive and host.
    pub scene: Arc<Scene>,
    /// How many random cubes.
    pub cubes: usize,
    /// By budget, ascending.
    pub points: Vec<BudgetPoint>,
    /// Which of them takes least in all; the smallest of equals.
    pub best: usize,
}

impl SearchBudgets {
    /// The budget with the least mean time of search and execution, nodes.
    #[must_use]
    pub fn best_nodes(&self) -> u64 {
        self.points[self.best].budget
    }
}

impl SearchBudgets {
    /// Plans the cubes of trials 0 to `cubes` − 1 with every budget, for the scene's drive.
    /// Search takes the nodes that were really spent, at the host's speed; execution is
    /// predicted from what beats cost after one another. `progress` is told the number of
    /// plans, and may break off: the result is then `None`, as it is without cubes or
    /// budgets.
    #[must_use]
    pub fn of(
        rehearser: &Rehearser,
        scene: &Arc<Scene>,
        budgets: &[u64],
        cubes: usize,
        progress: Progress<'_>,
    ) -> Option<Self> {
        let mut budgets = budgets.to_vec();
        budgets.sort_unstable();
        budgets.dedup();
        let (objective, transitions) = (rehearser.least_time(scene), rehearser.transitions(scene));
        let watch = Watch::new(progress);
        // (nodes, search, execution) by budget.
        let cube = |trial: u64| {
            let state = rehearser.random_cube(trial);
            let one = |&budget: &u64| {
                if watch.stopped() {
                    return None;
                }
                let Planned { plan, nodes, .. } =
                    rehearser.planner().plan(&state, objective, budget);
                watch.step();
                let execution_s = f64::from(transitions.total_us(&plan)) * 1e-6;
                Some((nodes as f64, StartToStop::searched(scene, nodes, execution_s)))
            };
            budgets.iter().map(one).collect::<Option<Vec<_>>>()
        };
        let rows: Option<Vec<_>> = (0..cubes as u64).into_par_iter().map(carried(cube)).collect();
        let rows = rows?;
        let mean_of = |point: usize, of: &dyn Fn(&(f64, StartToStop)) -> f64| {
            mean(&rows.iter().map(|row| of(&row[point])).collect::<Vec<f64>>())
        };
        let total = |(_, clock): &(f64, StartToStop)| clock.search_s + clock.execution_s;
        let totals: Vec<Vec<f64>> =
            rows.iter().map(|row| row.iter().map(total).collect()).collect();
        let noise = rehearser.seed().stream("search budgets", 0, 0);
        let bootstrap = PairedBootstrap::of(&totals, noise)?;
        let best = (0..budgets.len())
            .min_by(|&a, &b| mean_of(a, &total).total_cmp(&mean_of(b, &total)))?;
        let point = |(place, &budget): (usize, &u64)| BudgetPoint {
            budget,
            nodes: mean_of(place, &|row| row.0),
            search_s: mean_of(place, &|row| row.1.search_s),
            execution_s: mean_of(place, &|row| row.1.execution_s),
            total_s: bootstrap.figure(|means| means[place], 0.95),
            over_best_s: bootstrap.figure(|means| means[place] - means[best], 0.95),
        };
        let points = budgets.iter().enumerate().map(point).collect();
        Some(Self { scene: scene.clone(), cubes, points, best })
    }
}
