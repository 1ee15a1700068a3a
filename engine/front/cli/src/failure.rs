//! Why the program ends without a result.

use core::fmt;

use anyhow::Error;

use crate::stop::Signal;

/// A failure with its exit code.
#[derive(Debug)]
pub(crate) enum Failure {
    /// Bad input or usage: 2.
    Input(Error),
    /// Everything that is wrong with one input, a line each: 2.
    Faults(Vec<String>),
    /// A bug: 3.
    Ours(Error),
    /// Somebody wanted the program to end, and what was kept: 130 or 143.
    Stopped(Signal, String),
}

impl Failure {
    /// Bad input, in one line.
    pub(crate) fn input(message: impl fmt::Display) -> Self {
        Self::Input(Error::msg(readable(&message.to_string())))
    }

    /// Bad input: a line for each fault.
    pub(crate) fn faults(faults: Vec<String>) -> Self {
        Self::Faults(faults.iter().map(|fault| readable(fault)).collect())
    }

    /// A bug, in one line.
    pub(crate) fn ours(message: impl fmt::Display) -> Self {
        Self::Ours(Error::msg(readable(&message.to_string())))
    }

    /// A work that ended before its end, because somebody wanted it to; else a bug.
    pub(crate) fn broken_off(kept: impl fmt::Display) -> Self {
        match crate::stop::requested() {
            Some(signal) => Self::Stopped(signal, kept.to_string()),
            None => Self::ours("a work ended before its end"),
        }
    }

    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Input(_) | Self::Faults(_) => 2,
            Self::Ours(_) => 3,
            Self::Stopped(signal, _) => signal.exit_code(),
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
            Self::Stopped(signal, kept) => write!(f, "ended by {signal}: {kept}"),
        }
    }
}

/// Most digits of a number in a message.
const MOST_DIGITS: usize = 24;

/// A message whose very long numbers are written in powers of ten.
fn readable(message: &str) -> String {
    let mut out = String::with_capacity(message.len());
    let mut rest = message;
    while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, from) = rest.split_at(start);
        let digits = from.find(|c: char| !c.is_ascii_digit()).unwrap_or(from.len());
        let end = from.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(from.len());
        out.push_str(before);
        // Of a small number the many digits stand behind the point.
        let long = end > MOST_DIGITS;
        let (number, after) = from.split_at(if long { end } else { digits });
        match number.trim_end_matches('.').parse::<f64>() {
            Ok(value) if long => out.push_str(&format!("{value:e}")),
            _ => out.push_str(number),
        }
        rest = after;
    }
    out + rest
}

#[cfg(test)]
mod tests {
    use super::readable;

    #[test]
    fn long_numbers_are_written_in_powers_of_ten() {
        assert_eq!(readable(&format!("bus is {}: must be 6", -1e308)), "bus is -1e308: must be 6");
        assert_eq!(readable(&format!("{} and 12.", 1e-30)), "1e-30 and 12.");
        assert_eq!(readable("line 3: 0.25 of 1.5e3, a.ron"), "line 3: 0.25 of 1.5e3, a.ron");
        assert_eq!(readable("3f2a9c"), "3f2a9c");
        assert_eq!(readable("ends with 7"), "ends with 7");
    }
}
