//! A fixed series of questions to a guest before any rehearsal, and what is wrong with its
//! answers.
//!
//! | role | questions |
//! | --- | --- |
//! | reader | `calibrate` and then known pictures, which whoever checks hands over; the first of them twice |
//! | planner | the solved cube; one turn off; four turns off; every edge flipped; three random cubes; the last again |
//! | host | a run of five beats on axes that follow at once, as `host.rs` has them |
//! | controller | a run of 400 ms with a quarter turn of U and a half turn of R, on ideal axes, as `controller.rs` has them |
//!
//! All begin with `hello` and end with `goodbye`. After an answer that leaves open what the guest
//! would say next, it is asked no more.

mod controller;
mod host;
mod planner;
mod reader;

use dryturn_handoff::GuestRole;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::command::{GuestCommand, Limits};
use crate::fault::ProcessFault;

pub use reader::Pictures;

/// What a check found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Findings {
    /// The part that the guest was asked to play.
    pub role: GuestRole,
    /// What it calls itself; null where it did not get so far.
    pub guest: Option<String>,
    /// What was asked, in order.
    pub asked: Vec<String>,
    /// What is wrong; empty where all is well.
    pub findings: Vec<Finding>,
}

/// Something that is wrong.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// What was asked.
    pub asked: String,
    /// The fault's name that does not change, or `wrong_answer`.
    pub name: String,
    /// What was wrong, a clause without its full stop.
    pub wrong: String,
    /// What may be.
    pub allowed: String,
    /// The last lines of its standard error, where it gave no answer that can be used.
    pub stderr_tail: Vec<String>,
}

/// Asks a guest of a role what its series holds. A reader needs pictures.
#[must_use]
pub fn check(
    role: GuestRole,
    command: &GuestCommand,
    limits: Limits,
    pictures: &Pictures,
) -> Findings {
    let mut asking = Asking::of(role);
    match role {
        GuestRole::Reader => reader::check(command, limits, pictures, &mut asking),
        GuestRole::Planner => planner::check(command, limits, &mut asking),
        GuestRole::Host => host::check(command, limits, &mut asking),
        GuestRole::Controller => controller::check(command, limits, &mut asking),
    }
    asking.findings
}

/// What has been asked so far, and found.
struct Asking {
    findings: Findings,
    /// Whether the guest can no longer be asked.
    over: bool,
}

impl Asking {
    fn of(role: GuestRole) -> Self {
        let (asked, findings) = (Vec::new(), Vec::new());
        Self { findings: Findings { role, guest: None, asked, findings }, over: false }
    }

    /// What a guest answers, where that can be used; `None` without asking where it can no longer
    /// be asked.
    fn ask<T>(
        &mut self,
        what: &str,
        question: impl FnOnce() -> Result<T, ProcessFault>,
    ) -> Option<T> {
        if self.over {
            return None;
        }
        self.findings.asked.push(what.to_owned());
        match question() {
            Ok(answer) => Some(answer),
            Err(fault) => {
                self.over = fault.kind.ends();
                self.findings.findings.push(Finding {
                    asked: what.to_owned(),
                    name: fault.kind.name().to_owned(),
                    wrong: fault.kind.to_string(),
                    allowed: fault.kind.allowed(),
                    stderr_tail: fault.stderr_tail,
                });
                None
            }
        }
    }

    /// A guest that is there.
    fn met(&mut self, name: &str) {
        self.findings.guest = Some(name.to_owned());
    }

    /// An answer that can be used, but is wrong.
    fn wrong(&mut self, what: &str, wrong: impl Into<String>, allowed: impl Into<String>) {
        self.findings.findings.push(Finding {
            asked: what.to_owned(),
            name: "wrong_answer".to_owned(),
            wrong: wrong.into(),
            allowed: allowed.into(),
            stderr_tail: Vec::new(),
        });
    }

    /// Asked the same again, a guest should say the same.
    fn same<T: PartialEq>(&mut self, what: &str, first: Option<&T>, again: Option<&T>) {
        if let (Some(first), Some(again)) = (first, again)
            && first != again
        {
            let allowed =
                "the same answer to the same question: else rehearsals cannot be repeated";
            self.wrong(what, "it answered otherwise than the first time", allowed);
        }
    }
}
