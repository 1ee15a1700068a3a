//! Who blocked whom, what each axis had to do with the ends of runs, and what most of them
//! failed by.

use dryturn_cube::Face;
use dryturn_handoff::{Cause, JamVerdict};

use crate::axes::{Execution, TurningDrill};
use crate::failures::FailureKind;

/// How often one turn was blocked by one late face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blame {
    /// The late face.
    pub late: Face,
    /// The face that was blocked.
    pub blocked: Face,
    /// Whether it turned against the late face's error, so that corners met; else the row
    /// that both share rubbed along.
    pub against: bool,
    /// Jams.
    pub jams: usize,
    /// Faces brought to a stand that got through.
    pub pushed: usize,
    /// How far the late face was off, mean, degrees.
    pub late_deg: f64,
}

/// What one axis had to do with the ends of runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AxisBlame {
    /// Jams in which its face was late.
    pub late: usize,
    /// Jams in which its face was blocked.
    pub blocked: usize,
    /// Runs that it stopped otherwise, its shaft's breaking without a jam among them.
    pub stops: usize,
    /// Runs in which its shaft broke, in a jam or without.
    pub broken: usize,
}

/// What some executions failed by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reason {
    /// Its kind.
    pub kind: FailureKind,
    /// What happened, for instance `the shaft of U broke`.
    pub words: String,
    /// How many executions.
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
    pub fn blame(&self) -> Vec<Blame> {
        let mut rows: Vec<Blame> = Vec::new();
        for execution in &self.executions {
            let jams = execution.jam.iter().map(|jam| (jam, true));
            for (jam, ended) in jams.chain(execution.pushed.iter().map(|jam| (jam, false))) {
                let against = jam.met.late_angle_deg * jam.met.blocked_angle_deg < 0.0;
                let key = (jam.met.late_face, jam.met.blocked_face, against);
                let place = rows.iter().position(|row| (row.late, row.blocked, row.against) == key);
                let place = place.unwrap_or_else(|| {
                    let (late, blocked, against) = key;
                    let none = Blame { late, blocked, against, jams: 0, pushed: 0, late_deg: 0.0 };
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
        let mut axes = [AxisBlame::default(); 6];
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
    pub fn reasons(&self) -> Vec<Reason> {
        let mut reasons: Vec<Reason> = Vec::new();
        for (kind, words) in self.executions.iter().filter_map(Execution::reason) {
            match reasons.iter_mut().find(|known| known.kind == kind && known.words == words) {
                Some(known) => known.count += 1,
                None => reasons.push(Reason { kind, words, count: 1 }),
            }
        }
        reasons.sort_by(|a, b| b.count.cmp(&a.count).then_with(|| a.words.cmp(&b.words)));
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
        let told = || format!("{}: {}", reason.words, reason.count);
        let words = blame.map_or_else(told, |row| row.sentence());
        Some(format!("{} {count} of {}, most often {words}", kind.words(), failures.trials()))
    }
}
