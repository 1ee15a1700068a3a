//! Guests: who was taught.

use dryturn_handoff::GuestFault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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
    pub guest_fault: Option<GuestFault>,
}

#[cfg(test)]
mod tests {
    use dryturn_handoff::{GuestRole, SeatFault};
    use dryturn_rehearsal::Verdict;

    use super::*;
    use crate::ledger::{JudgeLine, Line, parse};

    /// A fault is written with all that is known of it, and read back the same; without one the
    /// line is as it was.
    #[test]
    fn faults_stand_in_the_ledger() {
        let mut fault = SeatFault::new("tick", "exited", "it ended with exit code 3");
        fault.stderr = vec!["no such face: X".to_owned()];
        let fault = GuestFault::of(GuestRole::Host, "my host", fault);
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
