//! What a guest did wrong.

mod kind;
mod role;

use core::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use kind::FaultKind;
pub use role::{Question, Role};

/// A question that a guest gave no answer to that can be used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GuestFault {
    /// The part it plays.
    pub role: Role,
    /// What it had been asked.
    pub question: Question,
    /// What was wrong.
    pub kind: FaultKind,
    /// The last lines of its standard error, oldest first: at most 10 lines and 2 kB, control
    /// characters written as escapes.
    pub stderr_tail: Vec<String>,
}

/// One sentence without its full stop.
impl fmt::Display for GuestFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the guest {} at “{}”: {}", self.role, self.question, self.kind)
    }
}

impl core::error::Error for GuestFault {}
