//! Whoever plays a stage from outside, and why one could not go on.

use core::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Which stage a guest plays.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum GuestRole {
    /// It makes a cube of the pictures.
    Reader,
    /// It finds the turns.
    Planner,
    /// It commands the turns.
    Host,
    /// It moves the axes.
    Controller,
}

impl GuestRole {
    /// All of them, in the order in which they are asked.
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

    /// The one of this word.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }
}

impl fmt::Display for GuestRole {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// Why a seat gave no answer that can be used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SeatFault {
    /// What it had been asked, one word as in `tick` or `read`.
    pub question: String,
    /// What was wrong, by a name that does not change, as in `no_json`.
    pub kind: String,
    /// The same as a clause without its full stop, as in `it answered no JSON`.
    pub wrong: String,
    /// The last lines that it wrote on its standard error, oldest first; empty where it has none.
    pub stderr: Vec<String>,
}

impl SeatFault {
    /// One that left nothing on a standard error.
    #[must_use]
    pub fn new(question: &str, kind: &str, wrong: impl Into<String>) -> Self {
        let (question, kind) = (question.to_owned(), kind.to_owned());
        Self { question, kind, wrong: wrong.into(), stderr: Vec::new() }
    }
}

/// A guest that could not go on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct GuestFault {
    /// The stage that it played.
    pub role: GuestRole,
    /// What it calls itself.
    pub guest: String,
    /// What happened.
    #[serde(flatten)]
    pub fault: Box<SeatFault>,
}

impl GuestFault {
    /// Of whoever of this name played a stage.
    #[must_use]
    pub fn of(role: GuestRole, guest: &str, fault: SeatFault) -> Self {
        Self { role, guest: guest.to_owned(), fault: Box::new(fault) }
    }
}

/// One sentence without its full stop.
impl fmt::Display for GuestFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { role, guest, fault } = self;
        write!(f, "the {role} “{guest}” at “{}”: {}", fault.question, fault.wrong)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_are_told_in_one_sentence() {
        let fault = SeatFault::new("tick", "no_json", "it answered no JSON");
        let guest = GuestFault::of(GuestRole::Host, "my host", fault);
        assert_eq!(guest.to_string(), "the host “my host” at “tick”: it answered no JSON");
        assert_eq!(GuestRole::ALL.map(GuestRole::word).join(" "), "reader planner host controller");
    }
}
