//! Why the program ends without a result.

use core::fmt;

use anyhow::Error;

/// A failure with its exit code.
#[derive(Debug)]
pub(crate) enum Failure {
    /// Bad input or usage: 2.
    Input(Error),
    /// A bug: 3.
    Ours(Error),
}

impl Failure {
    /// Bad input, in one line.
    pub(crate) fn input(message: impl fmt::Display) -> Self {
        Self::Input(Error::msg(message.to_string()))
    }

    /// A bug, in one line.
    pub(crate) fn ours(message: impl fmt::Display) -> Self {
        Self::Ours(Error::msg(message.to_string()))
    }

    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Input(_) => 2,
            Self::Ours(_) => 3,
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Input(error) => write!(f, "{error:#}"),
            Self::Ours(error) => write!(f, "this is our fault: {error:#}"),
        }
    }
}
