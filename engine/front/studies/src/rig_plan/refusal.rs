//! Why a plan is not handed to a rig.

use core::fmt;

use dryturn_driving::Ceiling;

use super::fault::RigFileError;
use super::proof::Followed;

/// Why a plan is not handed to a rig.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// The ceiling is out of range.
    Ceiling(f64),
    /// The pictures made no cube.
    Unreadable,
    /// The plan does not solve the state that was read.
    DoesNotSolve,
    /// No file can hold it.
    TooLong(RigFileError),
    /// Not all executions at the ceiling were clean, even where each turn waited for all
    /// faces to settle.
    Fails(f64, Box<Followed>),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Ceiling(share) => {
                write!(f, "the ceiling is {share}: must be {} to 1", Ceiling::LEAST_SHARE)
            }
            Self::Unreadable => f.write_str("nothing was read, so there is nothing to replay"),
            Self::DoesNotSolve => f.write_str("the plan does not solve the state that was read"),
            Self::TooLong(error) => write!(f, "the plan fits into no file: {error}"),
            Self::Fails(share, followed) => write!(
                f,
                "at ceiling {share} it fails in {}, even where every turn waits until all faces \
                 have settled",
                failures(followed)
            ),
        }
    }
}

/// How many failed, and the first of them.
pub(super) fn failures(followed: &Followed) -> String {
    let first = followed
        .first
        .as_ref()
        .map_or_else(String::new, |(trial, why)| format!(" (execution {trial}: {why})"));
    format!("{} of {} simulated executions{first}", followed.failures(), followed.counts.executions)
}
