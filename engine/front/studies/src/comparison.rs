//! What planning and timing save together, from the start button to the last stop: two
//! plans on two timings of a rig, with the same luck.

use std::sync::Arc;

use dryturn_driving::{Detail, Machine};
use dryturn_handoff::Plan;
use dryturn_planning::Planned;
use dryturn_rehearsal::{Rehearser, StartToStop};
use dryturn_scene::Scene;
use dryturn_statistics::{PairedBootstrap, mean, quantile};
use dryturn_units::stop::carried;
use rayon::prelude::*;

use crate::work::{Progress, Watch};

/// The four ways, in the order of all lists here.
pub const WAYS: [&str; 4] = [
    "textbook plan, safe timing",
    "plan for the rig, safe timing",
    "textbook plan, tuned timing",
    "plan for the rig, tuned timing",
];

/// How an execution ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// Every beat was turned.
    Completed,
    /// A jam ended it.
    Jammed,
    /// Something else did.
    Stopped,
}

/// One cube, four ways.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedCube {
    /// Names the cube and all draws, which are the same for the four.
    pub trial: u64,
    /// How each ended, and its time; that of one that was broken off counts nowhere.
    pub ways: [(Ended, StartToStop); 4],
}

impl ComparedCube {
    /// Whether all four turned every beat.
    #[must_use]
    pub fn completed(&self) -> bool {
        self.ways.iter().all(|(ended, _)| *ended == Ended::Completed)
    }

    /// From start to stop, the four ways, s.
    #[must_use]
    pub fn totals_s(&self) -> [f64; 4] {
        self.ways.each_ref().map(|(_, clock)| clock.total_s())
    }
}

/// A mean saving with its 95 % paired bootstrap interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Saving {
    /// What saves.
    pub what: &'static str,
    /// s.
    pub saved_s: (f64, (f64, f64)),
    /// Percent of the mean time of the textbook plan on safe timing.
    pub percent: (f64, (f64, f64)),
}

/// Of the means of the four ways: what each row of savings is. The shares are the means over
/// both orders in which one may go from the first way to the last (L. S. Shapley, *A value
/// for n-person games*, 1953), so that they add up to the whole.
const SAVINGS: [(&str, [f64; 4]); 7] = [
    ("both together", [1.0, 0.0, 0.0, -1.0]),
    ("the plan's share", [0.5, -0.5, 0.5, -0.5]),
    ("the timing's share", [0.5, 0.5, -0.5, -0.5]),
    ("the plan, on safe timing", [1.0, -1.0, 0.0, 0.0]),
    ("the plan, on tuned timing", [0.0, 0.0, 1.0, -1.0]),
    ("the timing, with the textbook plan", [1.0, 0.0, -1.0, 0.0]),
    ("the timing, with the plan for the rig", [0.0, 1.0, 0.0, -1.0]),
];

/// Two plans on two timings.
#[derive(Clone, Debug)]
pub struct RigComparison {
    /// The rig with safe timing.
    pub safe: Arc<Scene>,
    /// The same with tuned timing.
    pub tuned: Arc<Scene>,
    /// In order of their trials.
    pub cubes: Vec<ComparedCube>,
    /// What is saved: both together, the shares of plan and timing, and the four steps; empty
    /// where no cube was completed all four ways.
    pub savings: Vec<Saving>,
}

impl RigComparison {
    /// Cubes that were completed all four ways: those that times are taken from.
    pub fn compared(&self) -> impl Iterator<Item = &ComparedCube> {
        self.cubes.iter().filter(|cube| cube.completed())
    }

    /// How many executions of a way ended so.
    #[must_use]
    pub fn count(&self, way: usize, ended: Ended) -> usize {
        self.cubes.iter().filter(|cube| cube.ways[way].0 == ended).count()
    }

    /// Mean seconds of each part of a way's time, with the parts' names.
    #[must_use]
    pub fn parts(&self, way: usize) -> [(&'static str, f64); 6] {
        let clocks: Vec<_> = self.compared().map(|cube| cube.ways[way].1.parts()).collect();
        let names = StartToStop::of(&self.safe, 0.0).parts();
        core::array::from_fn(|part| {
            let values: Vec<f64> = clocks.iter().map(|parts| parts[part].1).collect();
            (names[part].0, mean(&values))
        })
    }

    /// Mean from start to stop of a way, s.
    #[must_use]
    pub fn mean_s(&self, way: usize) -> f64 {
        mean(&self.compared().map(|cube| cube.totals_s()[way]).collect::<Vec<f64>>())
    }

    /// Median of the same, s; `None` where no cube was completed all four ways.
    #[must_use]
    pub fn median_s(&self, way: usize) -> Option<f64> {
        let mut totals: Vec<f64> = self.compared().map(|cube| cube.totals_s()[way]).collect();
        totals.sort_by(f64::total_cmp);
        quantile(&totals, 0.5)
    }
}

impl RigComparison {
    /// Turns the cubes of trials 0 to `cubes` − 1 four ways: the textbook plan, and the plan
    /// for each rig with its host's budget, on a rig with safe timing and on the same rig
    /// with tuned timing. All four of a cube have the draws of its trial. A search costs the
    /// nodes that it really took, also the textbook's. `progress` is told the number of
    /// cubes, and may break off: the result is then `None`.
    #[must_use]
    pub fn of(
        rehearser: &Rehearser,
        safe: &Arc<Scene>,
        tuned: &Arc<Scene>,
        cubes: usize,
        progress: Progress<'_>,
    ) -> Option<Self> {
        let rigs =
            [safe, tuned].map(|scene| (scene, Machine::of(scene), rehearser.least_time(scene)));
        let watch = Watch::new(progress);
        let cube = |trial: u64| {
            if watch.stopped() {
                return None;
            }
            let state = rehearser.random_cube(trial);
            let textbook = rehearser.planner().textbook_counted(&state);
            let turned = |rig: usize, (plan, nodes): &(Plan, u64)| {
                let (scene, machine, _) = &rigs[rig];
                let run = machine.run(&state, plan, rehearser.seed().trial(trial), Detail::Figures);
                let ended = match (run.jam(), run.failure()) {
                    (Some(_), _) => Ended::Jammed,
                    (None, Some(_)) => Ended::Stopped,
                    (None, None) => Ended::Completed,
                };
                (ended, StartToStop::searched(scene, *nodes, run.total_s))
            };
            let own = |rig: usize| {
                let (scene, _, objective) = &rigs[rig];
                let budget = u64::from(scene.file().host.search_nodes);
                let Planned { plan, nodes, .. } =
                    rehearser.planner().plan(&state, *objective, budget);
                turned(rig, &(plan, nodes))
            };
            let ways = [turned(0, &textbook), own(0), turned(1, &textbook), own(1)];
            watch.step();
            Some(ComparedCube { trial, ways })
        };
        let cubes: Option<Vec<_>> = (0..cubes as u64).into_par_iter().map(carried(cube)).collect();
        let cubes = cubes?;
        let completed = cubes.iter().filter(|cube| cube.completed());
        let rows: Vec<Vec<f64>> = completed.map(|cube| cube.totals_s().to_vec()).collect();
        let noise = rehearser.seed().stream("compare rigs", 0, 0);
        let savings = PairedBootstrap::of(&rows, noise).map_or_else(Vec::new, |bootstrap| {
            let saving = |(what, weights): (&'static str, [f64; 4])| {
                let saved = |means: &[f64]| means.iter().zip(weights).map(|(m, w)| m * w).sum();
                Saving {
                    what,
                    saved_s: bootstrap.figure(saved, 0.95),
                    percent: bootstrap.figure(|means| 100.0 * saved(means) / means[0], 0.95),
                }
            };
            SAVINGS.map(saving).to_vec()
        });
        Some(Self { safe: safe.clone(), tuned: tuned.clone(), cubes, savings })
    }
}
