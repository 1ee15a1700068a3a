//! Many executions of plans on the axes alone: how often they fail and why, how long they
//! take, and what the rig goes through.

mod blame;
mod guests;
mod stored;
mod summary;

use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Turn};
use dryturn_driving::{Detail, Machine};
use dryturn_handoff::{Jam, Plan, Run, Stop};
use dryturn_rehearsal::Rehearser;
use dryturn_scene::Scene;
use dryturn_statistics::{Z_95, bootstrap_interval, exact_upper, quantile, wilson};
use dryturn_units::noise::Seed;
use dryturn_units::stop::carried;
use rayon::prelude::*;

pub use self::blame::{AxisBlame, BlameRow, ReasonCount};
pub use self::guests::GuestDrives;
use crate::failures::{FailureKind, Failures};
use crate::work::{NumberedPieces, Progress, Watch};

/// Plans that a drill turns unless it is given some.
pub const DRILL_PLANS: usize = 24;
/// Search nodes for each of them.
pub const DRILL_NODES: u64 = 20_000;

/// A drill is kept in about so many pieces, each of so many executions at least and at most.
const PIECES: usize = 1000;
const PIECE: (usize, usize) = (64, 4096);

/// What is kept of one execution.
#[derive(Clone, Debug, PartialEq)]
pub struct Execution {
    /// Its number, which names its draws.
    pub number: u64,
    /// Which of the drill's plans it turned.
    pub plan: usize,
    /// To the last stop, or until it was broken off, s.
    pub total_s: f64,
    /// No execution of this plan on this drive can be faster, s.
    pub bound_s: f64,
    /// The jam that ended it.
    pub jam: Option<Jam>,
    /// What else ended it.
    pub stop: Option<Stop>,
    /// Faces that were brought to a stand and got through.
    pub pushed: Vec<Jam>,
    /// Largest torque in a shaft, N·m.
    pub peak_torque_n_m: f64,
    /// Least safety factor of a shaft.
    pub safety_factor_ratio: f64,
    /// Energy from the supply, and what of it the brake resistor burnt, J.
    pub supply_j: f64,
    /// Burnt in the brake resistor, J.
    pub brake_j: f64,
    /// Lowest and highest bus voltage.
    pub bus_v: (f64, f64),
    /// Warmest winding, °C.
    pub winding_c: f64,
    /// Brake resistor at its hottest, °C.
    pub resistor_c: f64,
}

impl Execution {
    fn of(number: u64, plan: usize, run: Run) -> Self {
        Self {
            number,
            plan,
            total_s: run.total_s,
            bound_s: run.bound_s,
            peak_torque_n_m: run.peak_torque_n_m(),
            safety_factor_ratio: run.safety_factor_ratio(),
            supply_j: run.energy.supply_j,
            brake_j: run.energy.brake_j,
            bus_v: (run.power.lowest_v, run.power.highest_v),
            winding_c: run.winding_c(),
            resistor_c: run.power.resistor_c,
            jam: run.jam().cloned(),
            stop: run.stop().copied(),
            pushed: run.pushed,
        }
    }

    /// Why it failed; `None` where every beat was turned.
    #[must_use]
    pub fn failure(&self) -> Option<FailureKind> {
        FailureKind::of(self.jam.as_ref(), self.stop.as_ref())
    }

    /// Whether every beat was turned.
    #[must_use]
    pub fn completed(&self) -> bool {
        self.failure().is_none()
    }
}

/// Many executions on one scene's axes.
#[derive(Clone, Debug)]
pub struct TurningDrill {
    /// The scene whose axes turned.
    pub scene: Arc<Scene>,
    /// What was turned, in turn.
    pub plans: Arc<Vec<Plan>>,
    /// In order of their numbers.
    pub executions: Vec<Execution>,
    seed: Seed,
}

impl TurningDrill {
    /// How many.
    #[must_use]
    pub fn trials(&self) -> usize {
        self.executions.len()
    }

    fn count(&self, condition: impl Fn(&Execution) -> bool) -> usize {
        self.executions.iter().filter(|execution| condition(execution)).count()
    }

    /// Executions that jammed.
    #[must_use]
    pub fn jams(&self) -> usize {
        self.count(|execution| execution.jam.is_some())
    }

    /// Executions that something else stopped.
    #[must_use]
    pub fn stops(&self) -> usize {
        self.count(|execution| execution.stop.is_some())
    }

    /// All executions that failed, by kind.
    #[must_use]
    pub fn failures(&self) -> Failures {
        self.executions.iter().map(Execution::failure).collect()
    }

    /// Executions that ended with a broken shaft, in a jam or without.
    #[must_use]
    pub fn broken(&self) -> usize {
        let failures = self.failures();
        failures.of_kind(FailureKind::JamBrokeShaft) + failures.of_kind(FailureKind::ShaftBroke)
    }

    /// Executions in which a face was brought to a stand and got through.
    #[must_use]
    pub fn pushed(&self) -> usize {
        self.count(|execution| !execution.pushed.is_empty())
    }

    /// Wilson's 95 % interval of the jam rate.
    #[must_use]
    pub fn jam_interval(&self) -> (f64, f64) {
        wilson(self.jams(), self.trials(), Z_95)
    }

    /// Exact one-sided 95 % upper bound of the jam rate.
    #[must_use]
    pub fn jams_at_most(&self) -> f64 {
        exact_upper(self.jams(), self.trials(), 0.95)
    }

    /// Times of the completed executions, s, sorted.
    #[must_use]
    pub fn times_s(&self) -> Vec<f64> {
        let completed = self.executions.iter().filter(|execution| execution.completed());
        let mut times: Vec<f64> = completed.map(|execution| execution.total_s).collect();
        times.sort_by(f64::total_cmp);
        times
    }

    /// Quantile of the completed executions' times with its 95 % bootstrap interval
    /// (10,000 resamples), s; `None` where none was completed.
    #[must_use]
    pub fn time_s(&self, share: f64) -> Option<(f64, (f64, f64))> {
        let times = self.times_s();
        // One stream for each per mille of the share.
        let stream = (share * 1e3).round() as u64;
        let noise = self.seed.stream("bootstrap", 0, stream);
        Some((quantile(&times, share)?, bootstrap_interval(&times, share, 0.95, noise)?))
    }

    /// Mean of the bounds of the plans that were turned, s.
    #[must_use]
    pub fn mean_bound_s(&self) -> f64 {
        let sum: f64 = self.executions.iter().map(|execution| execution.bound_s).sum();
        sum / self.trials().max(1) as f64
    }

    /// Executions that turned every beat.
    #[must_use]
    pub fn completed(&self) -> usize {
        self.count(Execution::completed)
    }

    /// The turn that was blocked in a jam, and the last one of the late face before it.
    #[must_use]
    pub fn turns_of(&self, execution: &Execution, jam: &Jam) -> (Option<Turn>, Option<Turn>) {
        let plan = &self.plans[execution.plan];
        let turn = |beat: usize, face: Face| {
            plan.beats.get(beat)?.turns.iter().copied().find(|turn| turn.face == face)
        };
        let late = (0..jam.beat).rev().find_map(|beat| turn(beat, jam.met.late_face));
        (turn(jam.beat, jam.met.blocked_face), late)
    }

    /// Quantile of a figure over all executions; `None` where there are none.
    #[must_use]
    pub fn quantile(&self, share: f64, of: impl Fn(&Execution) -> f64) -> Option<f64> {
        quantile(&self.sorted(of), share)
    }

    /// A figure of every execution, sorted.
    #[must_use]
    pub fn sorted(&self, of: impl Fn(&Execution) -> f64) -> Vec<f64> {
        let mut values: Vec<f64> = self.executions.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        values
    }
}

/// Plans for `count` random cubes on a scene's drive: what a drill of the axes turns.
#[must_use]
pub fn random_plans(rehearser: &Rehearser, scene: &Scene, count: usize, nodes: u64) -> Vec<Plan> {
    let objective = rehearser.least_time(scene);
    let plan =
        |trial: u64| rehearser.planner().plan(&rehearser.random_cube(trial), objective, nodes).plan;
    (0..count as u64).map(plan).collect()
}

impl TurningDrill {
    /// Executes `plans` in turn in trials 0 to `count` − 1, each with its own draws, on all
    /// threads of the current pool. Draws are named by the trial alone, so drills under
    /// different settings meet the same luck. `progress` is told the number done, and may
    /// break off: the result is then `None`.
    #[must_use]
    pub fn of(
        rehearser: &Rehearser,
        scene: &Arc<Scene>,
        plans: &Arc<Vec<Plan>>,
        count: usize,
        progress: Progress<'_>,
    ) -> Option<Self> {
        Self::watched(rehearser, scene, plans, (count, count), &Watch::new(progress))
    }

    /// As [`TurningDrill::of`], with executions kept as they are made, in pieces whose
    /// size depends on `count` alone: a drill that was broken off goes on from there.
    #[must_use]
    pub fn kept(
        rehearser: &Rehearser,
        scene: &Arc<Scene>,
        plans: &Arc<Vec<Plan>>,
        count: usize,
        progress: Progress<'_>,
        pieces: &NumberedPieces<'_>,
    ) -> Option<Self> {
        let piece = (count / PIECES).clamp(PIECE.0, PIECE.1);
        let watch = Watch::keeping(progress, Some(pieces));
        Self::watched(rehearser, scene, plans, (count, piece), &watch)
    }

    /// A drill that is part of a watched work, in pieces of so many executions.
    pub(crate) fn watched(
        rehearser: &Rehearser,
        scene: &Arc<Scene>,
        plans: &Arc<Vec<Plan>>,
        (count, piece): (usize, usize),
        watch: &Watch<'_>,
    ) -> Option<Self> {
        let machine = Machine::of(scene);
        let execution = |number: u64| {
            if watch.stopped() || plans.is_empty() {
                return None;
            }
            let place = (number % plans.len() as u64) as usize;
            let draw = rehearser.seed().trial(number);
            let run = machine.run(&CubeState::SOLVED, &plans[place], draw, Detail::Figures);
            watch.step();
            Some(Execution::of(number, place, run))
        };
        let mut executions: Vec<Execution> = Vec::with_capacity(count);
        while executions.len() < count {
            let from = executions.len();
            let to = count.min(from + piece.max(1));
            let make =
                || (from as u64..to as u64).into_par_iter().map(carried(execution)).collect();
            executions.extend(watch.piece(to - from, make)?);
        }
        let (scene, plans) = (scene.clone(), plans.clone());
        Some(Self { scene, plans, executions, seed: rehearser.seed() })
    }
}
