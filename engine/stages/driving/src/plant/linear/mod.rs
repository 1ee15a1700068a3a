//! Loops and windings without limits, exact: a builder's check of gains before the
//! simulation with all its limits. Is the loop stable, how fast does an error die, how far
//! does it overshoot? A loop that is unstable here swings on the rig; one that is stable here
//! may still swing there.
//!
//! Everything here obeys `x' = A x + b`, so that `x` after a time is one exponential of a
//! small matrix (scaling and squaring; C. Moler, C. Van Loan, SIAM Review 45, 2003; from
//! memory). Left out: sampling, limits, Coulomb friction of a loop, the shaft.

mod loops;
mod winding;

use thiserror::Error;

pub use loops::{Loop, StepAnswer};
pub use winding::{SpunUp, spin_up};

/// Why there is no answer.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum LinearError {
    /// A figure that must be above zero is not.
    #[error("the {0} is {1}; it must be a number above 0")]
    NotPositive(&'static str, f64),
    /// A figure that must not be below zero is, or is no number.
    #[error("the {0} is {1}; it must be a number of 0 or more")]
    Negative(&'static str, f64),
    /// A step that is none.
    #[error("the step's height is {0}; it must be a number other than 0")]
    NoStep(f64),
    /// Friction would turn round, which no linear equation knows.
    #[error("the motor comes to a stand within {0} s; from there on its friction turns round")]
    ComesToAStand(f64),
}

fn positive(name: &'static str, value: f64) -> Result<(), LinearError> {
    let good = value > 0.0 && value.is_finite();
    if good { Ok(()) } else { Err(LinearError::NotPositive(name, value)) }
}

fn not_negative(name: &'static str, value: f64) -> Result<(), LinearError> {
    let good = value >= 0.0 && value.is_finite();
    if good { Ok(()) } else { Err(LinearError::Negative(name, value)) }
}
