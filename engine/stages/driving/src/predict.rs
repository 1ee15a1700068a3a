//! When each beat of a plan starts and how long it takes, if nothing is off: the timing
//! that a plan is made for and compared with. It is the simulation itself, of a rig
//! without any error.

use dryturn_cube::{Amount, CubeState, Face, Turn};
use dryturn_handoff::{Beat, End, Plan, Run};
use dryturn_scene::Scene;
use dryturn_scene::file::{Faults, SceneFile, Tolerances};
use dryturn_units::noise::Seed;

use crate::ceiling::Ceiling;
use crate::machine::Machine;
use crate::simulate::Detail;

/// Beats of a run that costs are taken from.
const BEATS: usize = 12;

/// The predicted times of one beat, seconds from the start of the plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeatTime {
    /// When its slowest face starts.
    pub start_s: f64,
    /// When its slowest face reaches its stop.
    pub stop_s: f64,
}

/// What beats cost in a row: seconds from the start of one to the start of the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeatCosts {
    /// A quarter turn.
    pub quarter_s: f64,
    /// A half turn.
    pub half_s: f64,
    /// Two opposite faces, a quarter turn each.
    pub pair_s: f64,
    /// From a quarter turn's stop to the start of the next beat; negative where they
    /// overlap.
    pub between_s: f64,
}

/// Timing of the drive of one scene, without its errors.
#[derive(Clone, Debug)]
pub struct Timing {
    pub(crate) machine: Machine,
}

impl Timing {
    /// Of a scene's drive.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        Self::below(scene, Ceiling::FULL)
    }

    /// Of a scene's drive below a ceiling that was made for the scene.
    #[must_use]
    pub fn below(scene: &Scene, ceiling: Ceiling) -> Self {
        Self { machine: Machine::of_file(exact(scene.file()), ceiling) }
    }

    pub(crate) fn run(&self, plan: &Plan) -> Run {
        self.machine.run(&CubeState::SOLVED, plan, Seed::new(0).trial(0), Detail::Figures)
    }

    /// Duration of a turn's profile, s.
    #[must_use]
    pub fn turn_s(&self, turn: Turn) -> f64 {
        self.machine.moves[Machine::kind(turn.amount)].duration_s
    }

    /// What beats cost, taken from simulated rows of beats; `None` where this drive does
    /// not get through a row even if nothing is off.
    #[must_use]
    pub fn costs(&self) -> Option<BeatCosts> {
        let turn = |face, amount| Turn { face, amount };
        let row = |amount: Amount, pairs: bool| {
            let beat = |i: usize| {
                let (one, other) =
                    if i.is_multiple_of(2) { (Face::U, Face::D) } else { (Face::R, Face::L) };
                let turns = if pairs {
                    vec![turn(one, amount), turn(other, amount)]
                } else {
                    vec![turn(one, amount)]
                };
                Beat { turns }
            };
            Plan { beats: (0..BEATS).map(beat).collect() }
        };
        let costs = |plan: Plan| {
            let run = self.run(&plan);
            let (first, last) = (run.beats.first()?, run.beats.last()?);
            let beats = run.beats.len() as f64 - 1.0;
            let between = run.beats.windows(2).map(|w| w[1].start_s() - w[0].stop_s());
            (run.end == End::Completed).then(|| {
                let mean_s = (last.start_s() - first.start_s()) / beats;
                (mean_s, between.sum::<f64>() / beats)
            })
        };
        let (quarter_s, between_s) = costs(row(Amount::Clockwise, false))?;
        let (half_s, _) = costs(row(Amount::Half, false))?;
        let (pair_s, _) = costs(row(Amount::Clockwise, true))?;
        Some(BeatCosts { quarter_s, half_s, pair_s, between_s })
    }

    /// From the start of a beat to the start of the next, s: of quarter turns, and with a
    /// half turn in it. Where the drive does not get through a row, of the profiles alone.
    #[must_use]
    pub fn beat_s(&self) -> (f64, f64) {
        let alone = |amount| self.turn_s(Turn { face: Face::U, amount });
        self.costs().map_or_else(
            || (alone(Amount::Clockwise), alone(Amount::Half)),
            |costs| (costs.quarter_s, costs.half_s),
        )
    }

    /// The times of a plan's beats; those that an error-free rig does not come to are
    /// missing.
    #[must_use]
    pub fn predict(&self, plan: &Plan) -> Vec<BeatTime> {
        let time = |beat: &dryturn_handoff::BeatRun| BeatTime {
            start_s: beat.turns.iter().map(|turn| turn.start_s).fold(0.0, f64::max),
            stop_s: beat.stop_s(),
        };
        self.run(plan).beats.iter().map(time).collect()
    }

    /// Time of a plan from the first command to the last stop, s; `None` where this drive
    /// does not get through it even if nothing is off.
    #[must_use]
    pub fn total_s(&self, plan: &Plan) -> Option<f64> {
        let run = self.run(plan);
        (run.end == End::Completed).then_some(run.total_s)
    }
}

/// The same rig without errors and faults.
pub(crate) fn exact(file: &SceneFile) -> SceneFile {
    let mut file = file.clone();
    file.faults = Faults::default();
    let tolerances = &mut file.tolerances;
    *tolerances = Tolerances {
        encoder_error_deg: 0.0,
        homing_error_sigma_deg: 0.0,
        homing_miss_share: 0.0,
        friction_spread_sigma_share: 0.0,
        tension_spread_sigma_share: 0.0,
        inertia_spread_sigma_share: 0.0,
        torque_constant_spread_sigma_share: 0.0,
        strength_spread_sigma_share: 0.0,
        shaft_offset_sigma_mm: 0.0,
        shaft_tilt_sigma_deg: 0.0,
        shaft_run_out_sigma_mm: 0.0,
        ..tolerances.clone()
    };
    file.link.command_jitter_sigma_ms = 0.0;
    file.link.frame_loss_share = 0.0;
    file.link.frame_corrupt_share = 0.0;
    file
}
