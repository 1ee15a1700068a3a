//! What is kept of one trial.

use dryturn_cube::CubeState;
use dryturn_handoff::{GuestFault, Jam, Outcome, Stop};
use dryturn_rehearsal::{Pass, Score, Verdict};

/// What is kept of one trial.
#[derive(Clone, Debug)]
pub struct Trial {
    /// Its number, which names its draws.
    pub number: u64,
    /// The true state.
    pub truth: CubeState,
    /// The reading against the truth.
    pub score: Score,
    /// Why nothing could be read.
    pub because: Option<String>,
    /// Whether the plan solves the state that was read; `None` without a plan.
    pub plan_solves_reading: Option<bool>,
    /// Turns and beats of the plan.
    pub plan_size: Option<(usize, usize)>,
    /// Execution time, s; to the jam or stop where it did not complete.
    pub total_s: Option<f64>,
    /// The jam.
    pub jam: Option<Jam>,
    /// What else broke it off.
    pub stop: Option<Stop>,
    /// How it ended.
    pub verdict: Verdict,
    /// The guest that could not go on, and why.
    pub fault: Option<GuestFault>,
    /// Guests that did not end as they must, after all was judged.
    pub unruly: Vec<GuestFault>,
}

impl From<Pass> for Trial {
    fn from(pass: Pass) -> Self {
        let because = match &pass.reading.outcome {
            Outcome::Unreadable { because, .. } => Some(because.clone()),
            Outcome::Read(_) => None,
        };
        Self {
            number: pass.trial,
            truth: pass.truth,
            because,
            plan_solves_reading: pass.plan_solves_reading(),
            plan_size: pass.plan.as_ref().map(|plan| (plan.turns().len(), plan.beats.len())),
            total_s: pass.run.as_ref().map(|run| run.total_s),
            jam: pass.run.as_ref().and_then(|run| run.jam().cloned()),
            stop: pass.run.as_ref().and_then(|run| run.stop().copied()),
            verdict: pass.verdict,
            fault: pass.fault,
            unruly: Vec::new(),
            score: pass.score,
        }
    }
}
