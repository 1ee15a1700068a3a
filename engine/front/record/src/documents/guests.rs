//! Documents about guests.

use dryturn_guests::check::Findings;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a check of a guest came to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GuestDocument {
    /// The exit code: 0 where nothing is wrong, else 1.
    pub exit_code: u8,
    /// What was asked, and what is wrong.
    pub check: Findings,
}
