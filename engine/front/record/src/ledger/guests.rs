//! Guests: who could not go on and why, who was taught.

use dryturn_handoff::{GuestFault, GuestRole, SeatFault};
use dryturn_rehearsal::Guests;
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
        let SeatFault { question, kind, wrong, stderr } = *fault;
        Self { role, guest, question, kind, wrong, stderr }
    }
}

/// What the guests of a drill call themselves.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct GuestNames {
    /// Who read; absent where Dryturn did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reader: Option<String>,
    /// Who planned; absent where Dryturn did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planner: Option<String>,
    /// Who commanded; absent where Dryturn did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub host: Option<String>,
    /// Who moved the axes; absent where Dryturn did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controller: Option<String>,
}

impl GuestNames {
    /// Of those who played.
    #[must_use]
    pub fn of(guests: &Guests) -> Self {
        let Guests { reader, planner, host, controller } = guests.clone();
        Self { reader, planner, host, controller }
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

#[cfg(test)]
mod tests {
    use dryturn_rehearsal::Verdict;

    use super::*;
    use crate::ledger::{JudgeLine, Line, parse};

    /// A fault is written with all that is known of it, and read back the same; without one the
    /// line is as it was.
    #[test]
    fn faults_stand_in_the_ledger() {
        let mut fault = SeatFault::new("tick", "exited", "it ended with exit code 3");
        fault.stderr = vec!["no such face: X".to_owned()];
        let fault = GuestRecord::of(&GuestFault::of(GuestRole::Host, "my host", fault));
        let judge = |verdict, guest_fault| JudgeLine { trial: 7, verdict, guest_fault };
        let line = Line::Judge(judge(Verdict::Guest, Some(fault.clone())));
        let taught =
            TeachLine { trial: 7, scans: 6, guest: "my reader".to_owned(), guest_fault: None };
        let lines = [line, Line::Teach(taught), Line::Judge(judge(Verdict::Solved, None))];
        let texts = lines.each_ref().map(Line::text);
        assert_eq!(
            texts[0],
            r#"{"guest_fault":{"guest":"my host","kind":"exited","question":"tick","role":"host","stderr":["no such face: X"],"wrong":"it ended with exit code 3"},"ledger_version":4,"stage":"judge","trial":7,"verdict":"guest"}"#
        );
        assert_eq!(
            texts[2],
            r#"{"ledger_version":4,"stage":"judge","trial":7,"verdict":"solved"}"#
        );
        assert_eq!(parse(&texts.join("\n")).unwrap(), lines);
    }
}
