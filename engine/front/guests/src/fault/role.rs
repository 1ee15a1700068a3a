//! The parts that guests play, and what they are asked.

use core::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The part that a guest plays.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// It reads the cube from the pictures.
    Reader,
    /// It plans the turns.
    Planner,
    /// It tells the axes when to turn.
    Host,
    /// It asks for the currents or set-points of the axes.
    Controller,
}

impl Role {
    /// All of them, in the order of a rehearsal.
    pub const ALL: [Self; 4] = [Self::Reader, Self::Planner, Self::Host, Self::Controller];

    /// One word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Reader => "reader",
            Self::Planner => "planner",
            Self::Host => "host",
            Self::Controller => "controller",
        }
    }

    /// The role of this name.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

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
