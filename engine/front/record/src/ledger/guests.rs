//! Guests: who could not go on and why, who was taught.

use dryturn_handoff::{GuestFault, GuestRole, SeatFault};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A guest that could not go on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct GuestRecord {
    /// The stage that it played.
    pub role: GuestRole,
    /// What it calls itself.
    pub guest: String,
    /// What it had been asked, one word.
    pub question: String,
    /// What was wrong, by a name that does not change.
    pub kind: String,
    /// The same as a clause.
    pub wrong: String,
    /// The last lines of its standard error, oldest first.
    pub stderr: Vec<String>,
}

impl GuestRecord {
    /// Of a fault.
    #[must_use]
    pub fn of(fault: &GuestFault) -> Self {
        let GuestFault { role, guest, fault } = fault.clone();
        let SeatFault { question, kind, wrong, stderr } = fault;
        Self { role, guest, question, kind, wrong, stderr }
    }
}

/// A guest that reads was taught with known cubes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct TeachLine {
    /// Number of the trial whose errors the rig was built with.
    pub trial: u64,
    /// Scans that it was shown.
    pub scans: usize,
    /// What it calls itself.
    pub guest: String,
    /// Why it could not go on; absent where it could.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest_fault: Option<GuestRecord>,
}
