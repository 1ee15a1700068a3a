//! What an axis on the bench cannot do, with the figures.

use core::fmt;

use thiserror::Error;

/// A move that has not settled after this is given up; one whose set-point takes longer is not
/// begun.
pub(super) const MOST_S: f64 = 1.0;
/// Samples of one log; no more are read from a file either.
pub(super) const MOST_SAMPLES: usize = 500_000;

/// What an axis on the bench cannot do. Moves are numbered from 1.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum BenchError {
    /// Friction holds it.
    #[error(
        "move {number}: {torque_share} of the drive's torque is {torque_n_m:.4} N·m, and friction \
         takes {friction_n_m:.4} N·m by the drawing: {}",
        Enough(*.least_share)
    )]
    Weak {
        /// The move.
        number: usize,
        /// Its share of the drive's torque limit.
        torque_share: f64,
        /// Torque at hand at a stand.
        torque_n_m: f64,
        /// Friction of a layer by the drawing.
        friction_n_m: f64,
        /// The share must be above this; 1 or more where none is enough.
        least_share: f64,
    },
    /// It takes too long.
    #[error(
        "move {number} takes {}, {} steps of the controller: at most {most_steps}, {MOST_S:?} s; \
         higher shares of speed and torque take less",
        Seconds(*.duration_s),
        Count(*.steps)
    )]
    Slow {
        /// The move.
        number: usize,
        /// How long its set-point takes.
        duration_s: f64,
        /// The same in periods of the controller.
        steps: f64,
        /// And how many there may be.
        most_steps: usize,
    },
    /// All moves together are too many samples.
    #[error(
        "{moves} moves are {samples} samples of the controller: at most {MOST_SAMPLES} in one log"
    )]
    Long {
        /// How many moves.
        moves: usize,
        /// Samples of their set-points and of the rests between them.
        samples: usize,
    },
}

/// What share of torque is enough.
struct Enough(f64);

impl fmt::Display for Enough {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // A share that reads as what it must be above would not do.
        match (self.0 * 1e3).ceil() * 1e-3 {
            share if share < 1.0 => write!(f, "the share must be above {share:.3}"),
            _ => f.write_str("the drive is too weak for this cube"),
        }
    }
}

/// A whole number, or its size where it is none that a person would read.
struct Count(f64);

impl fmt::Display for Count {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            count if count < 1e9 => write!(f, "{count:.0}"),
            count => write!(f, "{count:.1e}"),
        }
    }
}

/// Likewise of a time.
struct Seconds(f64);

impl fmt::Display for Seconds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            seconds if seconds < 1e4 => write!(f, "{seconds:.2} s"),
            seconds => write!(f, "{seconds:.1e} s"),
        }
    }
}
