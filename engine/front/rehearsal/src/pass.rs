//! What one pass produced, and its judgement.

use std::sync::Arc;

use dryturn_cube::CubeState;
use dryturn_handoff::{Cause, GuestFault, Outcome, Plan, Reading, Run, Scan};
use dryturn_scene::Scene;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::score::Score;
use crate::seats::Guests;
use crate::start_to_stop::{GuestCost, StartToStop};

/// How a pass ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The cube is solved.
    Solved,
    /// The pictures made no cube; nothing was turned.
    Unreadable,
    /// A jam stopped the run.
    Jammed,
    /// Something else stopped the run.
    Stopped,
    /// Everything was turned as planned, but a wrong state had been read.
    Misread,
    /// The run ended elsewhere than planned, without a jam.
    Lost,
    /// Whoever sat in a stage's place could not go on.
    Guest,
}

impl Verdict {
    /// One word for the ledger.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Solved => "solved",
            Self::Unreadable => "unreadable",
            Self::Jammed => "jammed",
            Self::Stopped => "stopped",
            Self::Misread => "misread",
            Self::Lost => "lost",
            Self::Guest => "guest",
        }
    }
}

/// All that one pass produced.
#[derive(Clone, Debug)]
pub struct Pass {
    /// The scene.
    pub scene: Arc<Scene>,
    /// Number of the trial.
    pub trial: u64,
    /// The true state that was scanned.
    pub truth: CubeState,
    /// The pictures.
    pub scan: Scan,
    /// What was read.
    pub reading: Reading,
    /// The reading against the truth.
    pub score: Score,
    /// The plan, where a state was read.
    pub plan: Option<Plan>,
    /// The run, where there was a plan.
    pub run: Option<Run>,
    /// How it ended.
    pub verdict: Verdict,
    /// Who played stages in the place of built-in ones.
    pub guests: Guests,
    /// Which of them could not go on, and why.
    pub fault: Option<GuestFault>,
    /// Why a host in the seat stopped everything, in its words.
    pub stopped_because: Option<String>,
    /// What the plan of a guest cost on the rig's clock, and the latency of its reading, ms.
    pub(crate) thought: Thought,
}

/// What guests' answers cost on the rig's clock, but for the run's.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Thought {
    pub(crate) reading_ms: f64,
    pub(crate) planning: GuestCost,
}

impl Pass {
    /// Whether the plan solves the state that was read, by applying it.
    #[must_use]
    pub fn plan_solves_reading(&self) -> Option<bool> {
        let state = self.reading.state()?;
        Some(state.turned_by(&self.plan.as_ref()?.turns()) == CubeState::SOLVED)
    }

    /// From the start button to the last stop, where there was a run.
    #[must_use]
    pub fn start_to_stop(&self) -> Option<StartToStop> {
        let clock = StartToStop::of(&self.scene, self.run.as_ref()?.total_s);
        let steps = self.reading.steps;
        let clock = if self.guests.reader.is_some() {
            let latency_ms = self.thought.reading_ms;
            clock.read_by_guest(&self.scene, GuestCost { latency_ms, operations: steps })
        } else {
            clock.read_in(&self.scene, steps)
        };
        Some(if self.guests.planner.is_some() {
            clock.planned_by_guest(&self.scene, self.thought.planning)
        } else {
            clock
        })
    }
}

/// How a pass ended, by what was read and what was turned; `failed` where a guest could not go on
/// before anything was turned.
pub(crate) fn judge(reading: &Reading, score: &Score, run: Option<&Run>, failed: bool) -> Verdict {
    let Some(run) = run else {
        if failed {
            return Verdict::Guest;
        }
        debug_assert!(matches!(reading.outcome, Outcome::Unreadable { .. }));
        return Verdict::Unreadable;
    };
    if run.jam().is_some() {
        Verdict::Jammed
    } else if let Some(stop) = run.stop() {
        let by_guest = matches!(stop.cause, Cause::Guest(_));
        if by_guest { Verdict::Guest } else { Verdict::Stopped }
    } else if run.final_state == CubeState::SOLVED {
        Verdict::Solved
    } else if score.right() {
        Verdict::Lost
    } else {
        Verdict::Misread
    }
}
