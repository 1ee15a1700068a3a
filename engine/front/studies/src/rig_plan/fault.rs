//! What is wrong with a rig plan that is read back.

use core::fmt;

/// What is wrong with a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RigFileError {
    /// The line, from 1.
    pub line: usize,
    /// What is wrong, and what is allowed.
    pub what: String,
}

impl fmt::Display for RigFileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.what)
    }
}

impl core::error::Error for RigFileError {}

pub(super) fn fault<T>(line: usize, what: impl Into<String>) -> Result<T, RigFileError> {
    Err(RigFileError { line, what: what.into() })
}
