//! What a guest did wrong.

mod kind;
mod question;

use core::fmt;

use dryturn_handoff::{GuestFault, GuestRole, SeatFault};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use kind::FaultKind;
pub use question::Question;

/// A question that a guest gave no answer to that can be used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProcessFault {
    /// The part it plays.
    pub role: GuestRole,
    /// What it had been asked.
    pub question: Question,
    /// What was wrong.
    pub kind: FaultKind,
    /// The last lines of its standard error, oldest first: at most 10 lines and 2 kB, control
    /// characters written as escapes.
    pub stderr_tail: Vec<String>,
}

/// One sentence without its full stop.
impl fmt::Display for ProcessFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the guest {} at “{}”: {}", self.role, self.question, self.kind)
    }
}

impl core::error::Error for ProcessFault {}

/// Whether a guest gave no answer within its limit.
#[must_use]
pub fn never_answered(fault: &GuestFault) -> bool {
    fault.fault.kind == kind::TOO_LATE
}

/// What a seat makes of it: who it is stands beside it there.
impl From<ProcessFault> for SeatFault {
    fn from(fault: ProcessFault) -> Self {
        let ProcessFault { question, kind, stderr_tail, .. } = fault;
        let stderr = stderr_tail;
        Self { stderr, ..Self::new(question.word(), kind.name(), kind.to_string()) }
    }
}
