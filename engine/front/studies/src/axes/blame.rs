//! Who blocked whom, what each axis had to do with the ends of runs, and what most of them
//! failed by.

use dryturn_cube::Face;
use dryturn_handoff::{Cause, JamVerdict};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::axes::{Execution, TurningDrill};
use crate::failures::FailureKind;

/// Who blocked whom.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BlameRow {
    /// The late face.
    pub late: Face,
    /// The face that was blocked.
    pub blocked: Face,
    /// Whether it turned against the late face's error, so that corners met.
    pub against: bool,
    /// Jams.
    pub jams: usize,
    /// Faces brought to a stand that got through.
    pub pushed: usize,
    /// How far the late face was off, mean.
    pub late_deg: f64,
}

/// What one axis had to do with the ends of executions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "AxisRecord")]
pub struct AxisBlame {
    /// Its face.
    pub face: Face,
    /// Jams in which that face was late.
    pub late: usize,
    /// Jams in which it was blocked.
    pub blocked: usize,
    /// Executions that it stopped otherwise.
    pub stops: usize,
    /// Executions in which its shaft broke.
    pub broken: usize,
}

/// What executions failed by.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReasonCount {
    /// The kind of failure.
    pub kind: FailureKind,
    /// What happened, in words.
    pub says: String,
    /// In how many executions.
    pub count: usize,
}

impl Execution {
    /// What it failed by, less the figures that differ from one execution to the next.
    fn reason(&self) -> Option<(FailureKind, String)> {
        let kind = self.failure()?;
        let words = match (&self.jam, &self.stop) {
            (Some(jam), _) => {
                format!("{} could not turn for {}", jam.met.blocked_face, jam.met.late_face)
            }
            (None, Some(stop)) => stop.cause.to_string(),
            (None, None) => return None,
        };
        Some((kind, words))
    }
}

impl TurningDrill {
    /// Who blocked whom, the most frequent first.
    #[must_use]
    pub fn blame(&self) -> Vec<BlameRow> {
        let mut rows: Vec<BlameRow> = Vec::new();
        for execution in &self.executions {
            let jams = execution.jam.iter().map(|jam| (jam, true));
            for (jam, ended) in jams.chain(execution.pushed.iter().map(|jam| (jam, false))) {
                let against = jam.met.late_angle_deg * jam.met.blocked_angle_deg < 0.0;
                let key = (jam.met.late_face, jam.met.blocked_face, against);
                let place = rows.iter().position(|row| (row.late, row.blocked, row.against) == key);
                let place = place.unwrap_or_else(|| {
                    let (late, blocked, against) = key;
                    let none =
                        BlameRow { late, blocked, against, jams: 0, pushed: 0, late_deg: 0.0 };
                    rows.push(none);
                    rows.len() - 1
                });
                let row = &mut rows[place];
                let before = (row.jams + row.pushed) as f64;
                row.late_deg =
                    (row.late_deg * before + jam.met.late_angle_deg.abs()) / (before + 1.0);
                row.jams += usize::from(ended);
                row.pushed += usize::from(!ended);
            }
        }
        rows.sort_by_key(|row| {
            let faces = (row.late.index(), row.blocked.index());
            (core::cmp::Reverse((row.jams, row.pushed)), faces, row.against)
        });
        rows
    }

    /// What each axis had to do with it, faces in the order U R F D L B.
    #[must_use]
    pub fn axes(&self) -> [AxisBlame; 6] {
        let none = |face| AxisBlame { face, late: 0, blocked: 0, stops: 0, broken: 0 };
        let mut axes = Face::ALL.map(none);
        for execution in &self.executions {
            if let Some(jam) = &execution.jam {
                axes[jam.met.late_face.index()].late += 1;
                axes[jam.met.blocked_face.index()].blocked += 1;
                if jam.verdict == JamVerdict::ShaftBroken {
                    axes[jam.strained_face.index()].broken += 1;
                }
            }
            let Some(cause) = execution.stop.map(|stop| stop.cause) else { continue };
            if let Some(face) = cause.face() {
                axes[face.index()].stops += 1;
                axes[face.index()].broken += usize::from(matches!(cause, Cause::ShaftBroken(_)));
            }
        }
        axes
    }

    /// What the executions failed by, the most frequent first.
    #[must_use]
    pub fn reasons(&self) -> Vec<ReasonCount> {
        let mut reasons: Vec<ReasonCount> = Vec::new();
        for (kind, says) in self.executions.iter().filter_map(Execution::reason) {
            match reasons.iter_mut().find(|known| known.kind == kind && known.says == says) {
                Some(known) => known.count += 1,
                None => reasons.push(ReasonCount { kind, says, count: 1 }),
            }
        }
        reasons.sort_by(|a, b| b.count.cmp(&a.count).then_with(|| a.says.cmp(&b.says)));
        reasons
    }

    /// The most frequent kind of failure with what happened most often, a clause; `None`
    /// where nothing failed.
    #[must_use]
    pub fn first_cause(&self) -> Option<String> {
        let failures = self.failures();
        let (kind, count) = *failures.split().first()?;
        let reason = self.reasons().into_iter().find(|reason| reason.kind == kind)?;
        let blame = self.blame().into_iter().find(|row| kind.is_jam() && row.jams > 0);
        let told = || format!("{}: {}", reason.says, reason.count);
        let words = blame.map_or_else(told, |row| row.sentence());
        Some(format!("{} {count} of {}, most often {words}", kind.words(), failures.trials()))
    }
}
