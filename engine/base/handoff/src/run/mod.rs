//! What the axes made of a plan.

mod jam;
mod load;
mod stop;
mod trace;

use dryturn_cube::{CubeState, Turn};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

pub use jam::{Blame, Jam, JamVerdict, LateReason, Meeting};
pub use load::{AngleBudget, AxisLoad, Energy, Power};
pub use stop::{Cause, RunLimits, SimulationLimit, Stop};
pub use trace::{NEIGHBOURS, Trace, neighbours};

/// When a shaft moved.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TurnRun {
    /// What it turned.
    pub turn: Turn,
    /// When its set-point began to move, seconds from the first command.
    pub start_s: f64,
    /// When its profile had ended and its encoder was within the settle window; where
    /// that never came to be, when the run ended. While a run goes on it may be infinite, which is
    /// null as JSON.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub stop_s: f64,
}

/// When a beat ran.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BeatRun {
    /// Index in the plan, from 0.
    pub beat: usize,
    /// Its one or two turns.
    pub turns: Vec<TurnRun>,
    /// The largest angle, degrees, by which a neighbouring face was off its stop while
    /// this beat's turn engaged.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub worst_offset_deg: f64,
}

impl BeatRun {
    /// When the first of its shafts began to move, seconds from the start.
    #[must_use]
    pub fn start_s(&self) -> f64 {
        self.turns.iter().map(|turn| turn.start_s).fold(f64::INFINITY, f64::min)
    }

    /// When the last of its shafts had settled.
    #[must_use]
    pub fn stop_s(&self) -> f64 {
        self.turns.iter().map(|turn| turn.stop_s).fold(0.0, f64::max)
    }
}

/// How a run ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// Every beat was turned.
    Completed,
    /// A jam stopped it.
    Jammed(Jam),
    /// Something else stopped it.
    Stopped(Stop),
}

/// A simulated execution. Where its motion grew beyond all numbers there is null as JSON, which is
/// read as infinite where the largest or least is told, and as no number elsewhere.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Run {
    /// One entry for each beat that began.
    pub beats: Vec<BeatRun>,
    /// What the shafts did.
    pub trace: Trace,
    /// From the first command until the last face has settled, or until it was broken
    /// off, seconds.
    pub total_s: f64,
    /// How it ended.
    pub end: End,
    /// Faces that were brought to a stand and then got through.
    pub pushed: Vec<Jam>,
    /// Up to here a face may be off without touching a turning neighbour, degrees.
    pub free_deg: f64,
    /// Beyond this it jams the neighbour, by the closed form at nominal friction and hold
    /// torque, degrees.
    pub jam_deg: f64,
    /// No execution of this plan on this drive can be faster, seconds.
    pub bound_s: f64,
    /// Commands that were sent again.
    pub resent: usize,
    /// What it could have taken at the most before the simulation had ended it.
    pub limits: RunLimits,
    /// Steps of the plant that it took, counted as in its limits.
    pub axis_steps: u64,
    /// Where the energy went.
    pub energy: Energy,
    /// What each axis went through, faces in the order U R F D L B.
    pub axes: [AxisLoad; 6],
    /// What the supply went through.
    pub power: Power,
    /// How far each face is off its nearest stop at the end, degrees.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "[Option<f64>; 6]")]
    pub rest_deg: [f64; 6],
    /// The cube as it really ends up: a face that was left on its way counts at the stop
    /// that it is nearest to.
    pub final_state: CubeState,
}

impl Run {
    /// The jam, where one ended the run.
    #[must_use]
    pub fn jam(&self) -> Option<&Jam> {
        match &self.end {
            End::Jammed(jam) => Some(jam),
            _ => None,
        }
    }

    /// What else ended the run before its time.
    #[must_use]
    pub fn stop(&self) -> Option<&Stop> {
        match &self.end {
            End::Stopped(stop) => Some(stop),
            _ => None,
        }
    }

    /// Largest torque in any shaft, N·m.
    #[must_use]
    pub fn peak_torque_n_m(&self) -> f64 {
        self.axes.iter().map(|axis| axis.peak_torque_n_m).fold(0.0, f64::max)
    }

    /// Least safety factor of a shaft.
    #[must_use]
    pub fn safety_factor_ratio(&self) -> f64 {
        self.axes.iter().map(AxisLoad::safety_factor_ratio).fold(f64::INFINITY, f64::min)
    }

    /// Warmest winding, °C.
    #[must_use]
    pub fn winding_c(&self) -> f64 {
        self.axes.iter().map(|axis| axis.winding_c).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Why it did not complete, one sentence without its full stop.
    #[must_use]
    pub fn failure(&self) -> Option<String> {
        match &self.end {
            End::Completed => None,
            End::Jammed(jam) => Some(jam.to_string()),
            End::Stopped(stop) => Some(stop.to_string()),
        }
    }
}
