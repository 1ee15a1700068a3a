//! An axis's inertia, friction and limits from the builder's own logs of single moves.
//!
//! `K i = J θ'' + T_c sgn θ' + B θ' + T_d sin 4θ`: the motor's torque against inertia,
//! Coulomb and viscous friction and the cube's detents, by least squares over the filtered
//! log (M. Gautier and W. Khalil, Int. J. Robotics Research 11, 1992; from memory). A
//! current tells of torque only by way of the torque constant `K`, which is the drawn one:
//! what is determined is J/K, T_c/K and so on. Without currents the log must be of an axis
//! that coasts, and tells T_c/J, B/J and T_d/J.
//!
//! One move is kept out of the fit, and predicted.
//!
//! Logs whose samples are more than 1 and up to 10 ms apart are fitted by simulating the axis
//! instead (`slow/`).

mod block;
pub mod filter;
mod fit;
mod held_out;
mod identified;
mod identify;
mod limits;
mod log;
mod moves;
mod run;
mod slow;
#[cfg(test)]
mod tests;

use core::f64::consts::TAU;

use dryturn_scene::file::Drive;
use thiserror::Error;

pub use crate::columns::{FEWEST_SAMPLES, LogError, MOST_SAMPLES};
pub use block::{DriveField, written};
pub use dryturn_numerics::regression;
pub use identified::{
    Estimate, HeldOut, Identified, Limit, LimitKind, MOST_END_OFF, MOST_OFF_SHARE,
    MOST_SLOW_OFF_SHARE, MoveSeen, Parameter, SlowFit,
};
pub use identify::identify;
pub use log::axis_log;
pub use run::run_log;

/// Most moves in all logs: each is left out of the fit once.
pub const MOST_MOVES: usize = 5000;
/// Slower than this an axis rests, rad/s.
pub(crate) const REST_RAD_S: f64 = 1.0;
/// Corner of the low-pass: below what a printed shaft swings with, above what a move of
/// 40 ms is made of.
pub(crate) const CORNER_HZ: f64 = 100.0;
/// A number with a larger standard error, as a share of it, is not determined.
pub const MOST_ERROR_SHARE: f64 = 0.2;
/// Columns with a larger condition number are not told apart.
pub const MOST_CONDITION_RATIO: f64 = 30.0;
/// Top speeds within this ratio of each other are one speed.
pub const ONE_SPEED_RATIO: f64 = 1.25;

/// Back-EMF and torque constant of the drawn drive, V·s/rad and N·m/A.
pub(crate) fn constant_v_s(drive: &Drive) -> f64 {
    60.0 / (TAU * drive.speed_constant_rpm_per_v)
}

/// The current that the drawn drive gives at most: its setting, its limit, or what the bus
/// can press through the winding.
pub(crate) fn current_limit_a(drive: &Drive) -> f64 {
    let setting = drive.torque_setting_n_m_per_v * drive.bus_voltage_v;
    let limit_a = setting.min(drive.torque_limit_n_m) / constant_v_s(drive);
    limit_a.min(drive.duty_share * drive.bus_voltage_v / drive.resistance_ohm)
}

/// The number of the move that is kept out, from 1: the last one unless given.
pub(crate) fn kept_out(given: Option<usize>, moves: usize) -> Result<usize, IdentifyError> {
    let out = given.unwrap_or(moves);
    if (1..=moves).contains(&out) {
        Ok(out)
    } else {
        Err(IdentifyError::HeldOut { given: out, moves })
    }
}

/// Why logs tell nothing.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum IdentifyError {
    /// Some logs have currents and some have not.
    #[error(
        "log {log} differs from log 1 in having a column current_a: must be in all logs, or none"
    )]
    Mixed {
        /// From 1.
        log: usize,
    },
    /// The same log again, which would make every figure look surer than it is.
    #[error(
        "log {log} is log {first} again, sample for sample: each must be of moves of its own, or \
         errors come out too small"
    )]
    Twice {
        /// The first of the two, from 1.
        first: usize,
        /// The other.
        log: usize,
    },
    /// A log without a move.
    #[error("log {log}: no move of 10° or more: must hold at least one")]
    NoMove {
        /// From 1.
        log: usize,
    },
    /// Nothing left to fit.
    #[error(
        "{moves} move in all: must be at least 2, for one is kept out of the fit and predicted"
    )]
    OneMove {
        /// How many.
        moves: usize,
    },
    /// No such move.
    #[error("move {given} shall be kept out: must be 1 to {moves}, the moves of all logs")]
    HeldOut {
        /// As given.
        given: usize,
        /// How many there are.
        moves: usize,
    },
    /// What cannot be negative comes out negative.
    #[error(
        "{what}: must be positive; the sign of current_a or of angle_deg is probably reversed: \
         both must be clockwise positive"
    )]
    Reversed {
        /// Number of the log, from 1, where one by itself shows it.
        log: Option<usize>,
        /// What is negative.
        what: String,
    },
    /// Some logs are slow and some are not.
    #[error(
        "log {log} differs from log 1 in having samples more than 1 ms apart, or not: must be so in \
         all logs, or none"
    )]
    MixedSteps {
        /// From 1.
        log: usize,
    },
    /// Too few samples for what moves.
    #[error(
        "the logs do not tell: {samples} samples in motion in {moves} moves that have enough of them, \
         {step_ms:.1} ms apart where a move takes about {span_ms:.0} ms; samples must be at most \
         {near_ms} ms apart, in four moves or more"
    )]
    TooSlow {
        /// Samples in motion.
        samples: usize,
        /// Moves that have enough of them.
        moves: usize,
        /// How far samples are apart.
        step_ms: f64,
        /// How long a move takes.
        span_ms: f64,
        /// How near samples must be.
        near_ms: f64,
    },
    /// Another controller, or another profile.
    #[error(
        "the axis does not move as the drawn profile and controller would: angles are off by \
         {off_deg:.2}° and currents by {:.0} %; slow logs are fitted by simulating both, so the \
         scene's drive.profile, drive limits and controller must be the drive's own, or samples at \
         most 1 ms apart, which need neither; or the sign of current_a is reversed",
        100.0 * off_share
    )]
    Unlike {
        /// Root mean square.
        off_deg: f64,
        /// Of the currents' own.
        off_share: f64,
    },
    /// More moves than anybody logs.
    #[error("{moves} moves in all logs: at most {MOST_MOVES}")]
    Many {
        /// How many.
        moves: usize,
    },
    /// Slow logs whose moves would take hours to fit.
    #[error(
        "the moves that are fitted last {moving_s:.1} s, {steps} steps of the simulated axis: at \
         most {most} steps in all; give fewer logs or shorter moves"
    )]
    Work {
        /// How long the moves last together.
        moving_s: f64,
        /// Steps of one simulation of each.
        steps: u64,
        /// And how many there may be.
        most: u64,
    },
    /// Too few samples, or all alike.
    #[error(
        "the logs do not tell: {rows} samples in motion; they must hold moves of 10 ms or more at \
         1000 samples a second or more"
    )]
    Nothing {
        /// Samples in motion.
        rows: usize,
    },
}
