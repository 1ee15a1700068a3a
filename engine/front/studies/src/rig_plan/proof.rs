//! Executions that follow a file: what a plan for a rig must come through.

use dryturn_cube::CubeState;
use dryturn_driving::{Ceiling, Detail, Machine};
use dryturn_handoff::Run;
use dryturn_scene::Scene;
use dryturn_statistics::{exact_upper, quantile};
use dryturn_units::noise::Draw;
use dryturn_units::stop::carried;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::file::RigFile;
use crate::work::{Progress, Watch};

/// How many executions of one file ended how.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FollowedCounts {
    /// Executions.
    pub executions: usize,
    /// Those in which nothing was even pushed.
    pub clean: usize,
    /// Those that jammed.
    pub jammed: usize,
    /// Those that something else stopped.
    pub stopped: usize,
    /// Those with a face that was stuck and got through.
    pub pushed: usize,
}

/// What many executions of one file came to, each with errors of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Followed {
    /// How many ended how; clean are those that turned every beat and solved the cube, and in
    /// which no face was brought to a stand.
    pub counts: FollowedCounts,
    /// The first that was not clean: its number and what happened.
    pub first: Option<(u64, String)>,
    /// Times of those that were completed, sorted, s.
    pub times_s: Vec<f64>,
    /// Largest torque in a shaft, N·m.
    pub peak_torque_n_m: f64,
    /// Least safety factor of a shaft.
    pub safety_factor_ratio: f64,
}

/// One execution.
struct One {
    jammed: bool,
    stopped: bool,
    trouble: Option<String>,
    total_s: f64,
    peak_torque_n_m: f64,
    safety_factor_ratio: f64,
}

impl One {
    fn of(run: &Run) -> Self {
        let stood = run.pushed.first().map(ToString::to_string);
        let unsolved = (run.final_state != CubeState::SOLVED)
            .then(|| "everything was turned, but the cube is not solved".to_owned());
        Self {
            jammed: run.jam().is_some(),
            stopped: run.stop().is_some(),
            trouble: run.failure().or(stood).or(unsolved),
            total_s: run.total_s,
            peak_torque_n_m: run.peak_torque_n_m(),
            safety_factor_ratio: run.safety_factor_ratio(),
        }
    }
}

impl Followed {
    /// Executions that were not clean.
    #[must_use]
    pub fn failures(&self) -> usize {
        self.counts.executions - self.counts.clean
    }

    /// With 95 % confidence no more than this share fails: the exact one-sided bound.
    #[must_use]
    pub fn fail_at_most_share(&self) -> f64 {
        exact_upper(self.failures(), self.counts.executions, 0.95)
    }

    /// Quantile of the times of the completed executions, s.
    #[must_use]
    pub fn time_s(&self, share: f64) -> Option<f64> {
        quantile(&self.times_s, share)
    }
}

impl RigFile {
    /// The state that the file's turns solve.
    #[must_use]
    pub fn start(&self) -> CubeState {
        let turns = self.sheet.plan().turns();
        let back: Vec<_> = turns.iter().rev().map(|turn| turn.inverse()).collect();
        CubeState::SOLVED.turned_by(&back)
    }

    /// Follows the file on a scene's axes at its ceiling, in `count` trials from `first` on.
    /// `progress` is told the number done, and may break off: the result is then `None`.
    #[must_use]
    pub fn follow(
        &self,
        scene: &Scene,
        first: Draw,
        count: usize,
        progress: Progress<'_>,
    ) -> Option<Followed> {
        let machine = Machine::below(scene, Ceiling::of(scene, self.ceiling_share)?);
        let start = self.start();
        let watch = Watch::new(progress);
        let one = |number: u64| {
            if watch.stopped() {
                return None;
            }
            let draw = first.seed.trial(first.trial + number);
            let run = machine.follow(&self.sheet, &start, draw, Detail::Figures);
            watch.step();
            Some(One::of(&run))
        };
        let all: Vec<One> =
            (0..count as u64).into_par_iter().map(carried(one)).collect::<Option<Vec<One>>>()?;
        let count_of =
            |condition: &dyn Fn(&One) -> bool| all.iter().filter(|one| condition(one)).count();
        let completed = |one: &One| !(one.jammed || one.stopped);
        let mut times_s: Vec<f64> =
            all.iter().filter(|one| completed(one)).map(|one| one.total_s).collect();
        times_s.sort_by(f64::total_cmp);
        let mut numbered = (first.trial..).zip(&all);
        Some(Followed {
            counts: FollowedCounts {
                executions: all.len(),
                clean: count_of(&|one| one.trouble.is_none()),
                jammed: count_of(&|one| one.jammed),
                stopped: count_of(&|one| one.stopped),
                pushed: count_of(&|one| completed(one) && one.trouble.is_some()),
            },
            first: numbered.find_map(|(number, one)| Some((number, one.trouble.clone()?))),
            times_s,
            peak_torque_n_m: all.iter().map(|one| one.peak_torque_n_m).fold(0.0, f64::max),
            safety_factor_ratio: all
                .iter()
                .map(|one| one.safety_factor_ratio)
                .fold(f64::INFINITY, f64::min),
        })
    }

    /// The first of those executions with all that its axes did.
    #[must_use]
    pub fn run(&self, scene: &Scene, draw: Draw) -> Option<Run> {
        let machine = Machine::below(scene, Ceiling::of(scene, self.ceiling_share)?);
        Some(machine.follow(&self.sheet, &self.start(), draw, Detail::Trace))
    }
}
