//! What one pass produced, and its judgement.

use std::sync::Arc;

use dryturn_cube::CubeState;
use dryturn_handoff::{Outcome, Plan, Reading, Run, Scan};
use dryturn_scene::Scene;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::score::Score;
use crate::start_to_stop::StartToStop;

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
        let of = |total_s| StartToStop::of(&self.scene, total_s);
        self.run.as_ref().map(|run| of(run.total_s).read_in(&self.scene, self.reading.steps))
    }
}

/// How a pass ended, by what was read and what was turned.
pub(crate) fn judge(reading: &Reading, score: &Score, run: Option<&Run>) -> Verdict {
    let Some(run) = run else {
        debug_assert!(matches!(reading.outcome, Outcome::Unreadable { .. }));
        return Verdict::Unreadable;
    };
    if run.jam().is_some() {
        Verdict::Jammed
    } else if run.stop().is_some() {
        Verdict::Stopped
    } else if run.final_state == CubeState::SOLVED {
        Verdict::Solved
    } else if score.right() {
        Verdict::Lost
    } else {
        Verdict::Misread
    }
}
