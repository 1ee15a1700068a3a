//! What guests are asked.

use core::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a guest is asked; the method's name where there is one.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Question {
    /// To start at all.
    Start,
    /// Who it is.
    Hello,
    /// To learn from known cubes.
    Calibrate,
    /// To read pictures.
    Read,
    /// To plan turns.
    Plan,
    /// To begin a run.
    Begin,
    /// What to do at a tick of a host.
    Tick,
    /// A record of a controller.
    Record,
    /// To end.
    Goodbye,
}

impl Question {
    /// One word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Hello => "hello",
            Self::Calibrate => "calibrate",
            Self::Read => "read",
            Self::Plan => "plan",
            Self::Begin => "begin",
            Self::Tick => "tick",
            Self::Record => "record",
            Self::Goodbye => "goodbye",
        }
    }
}

impl fmt::Display for Question {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}
