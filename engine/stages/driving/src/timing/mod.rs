//! When each beat of a plan starts and how long it takes, if nothing is off: the timing
//! that a plan is made for and compared with. It is the simulation itself, of a rig
//! without any error.

mod cues;
mod transitions;

use dryturn_cube::{Amount, CubeState, Face, Turn};
use dryturn_handoff::{Beat, End, Plan, Run};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;

use crate::rig::{Ceiling, Machine};
use crate::run::Detail;

pub use transitions::{STUCK_US, Transitions};

/// Beats of a run that costs are taken from.
const BEATS: usize = 12;

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
        Self { machine: Machine::without_errors_below(scene, ceiling) }
    }

    pub(crate) fn run(&self, plan: &Plan) -> Run {
        self.machine.run(&CubeState::SOLVED, plan, Seed::new(0).trial(0), Detail::Figures)
    }

    /// Duration of a turn's profile, s.
    #[must_use]
    pub fn turn_s(&self, turn: Turn) -> f64 {
        self.machine.turn_s(turn.amount)
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
        self.beat_s_by(self.costs())
    }

    /// The same by what [`Timing::costs`] has given.
    #[must_use]
    pub fn beat_s_by(&self, costs: Option<BeatCosts>) -> (f64, f64) {
        let alone = |amount| self.turn_s(Turn { face: Face::U, amount });
        costs.map_or_else(
            || (alone(Amount::Clockwise), alone(Amount::Half)),
            |costs| (costs.quarter_s, costs.half_s),
        )
    }

    /// Time of a plan from the first command to the last stop, s; `None` where this drive
    /// does not get through it even if nothing is off.
    #[must_use]
    pub fn total_s(&self, plan: &Plan) -> Option<f64> {
        let run = self.run(plan);
        (run.end == End::Completed).then_some(run.total_s)
    }
}
