//! Why the program ends without a result.

use core::fmt;

use anyhow::Error;

/// A failure with its exit code.
#[derive(Debug)]
pub(crate) enum Failure {
    /// Bad input or usage: 2.
    Input(Error),
    /// Everything that is wrong with one input, a line each: 2.
    Faults(Vec<String>),
    /// A bug: 3.
    Ours(Error),
}

impl Failure {
    /// Bad input, in one line.
    pub(crate) fn input(message: impl fmt::Display) -> Self {
        Self::Input(Error::msg(message.to_string()))
    }

    /// Bad input: a line for each fault.
    pub(crate) fn faults(faults: Vec<String>) -> Self {
        Self::Faults(faults)
    }

    /// A bug, in one line.
    pub(crate) fn ours(message: impl fmt::Display) -> Self {
        Self::Ours(Error::msg(message.to_string()))
    }

    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Input(_) | Self::Faults(_) => 2,
            Self::Ours(_) => 3,
        }
    }

    /// What is wrong, one message after the other.
    pub(crate) fn messages(&self) -> Vec<String> {
        match self {
            Self::Faults(faults) => faults.clone(),
            _ => vec![self.to_string()],
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Input(error) => write!(f, "{error:#}"),
            Self::Faults(faults) => f.write_str(&faults.join("; ")),
            Self::Ours(error) => write!(f, "this is our fault: {error:#}"),
        }
    }
}
