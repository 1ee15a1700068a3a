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
mod limits;
mod log;
mod moves;
pub mod regression;
mod run;
mod slow;
#[cfg(test)]
mod tests;

use core::f64::consts::TAU;

use dryturn_scene::file::Drive;
use thiserror::Error;

pub use crate::columns::{FEWEST_SAMPLES, LogError, MOST_SAMPLES};
pub use block::{DriveField, written};
pub use fit::identify;
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
/// A held-out move is predicted where torque and angle are off by no more than these shares
/// (root mean square: of the torque's own, and of the move's angle).
pub const MOST_OFF_SHARE: [f64; 2] = [0.15, 0.15];
/// In slow logs torque is that of single samples, with what the encoder's steps and the swing of
/// the shaft make of each: 76 of 80 simulated rigs are within 0.25 at 10 ms.
pub const MOST_SLOW_OFF_SHARE: f64 = 0.3;
/// And where the computed motion ends no farther off than this, degrees, or this share of the
/// move, whichever is more: friction that differs from turn to turn, adding up, takes good logs
/// of 120 simulated rigs up to 29 %.
pub const MOST_END_OFF: (f64, f64) = (5.0, 0.3);

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

/// What is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Parameter {
    /// Of all that turns: rotor, coupler and layer.
    Inertia,
    /// Coulomb friction of layer and bearings.
    Coulomb,
    /// Friction that grows with speed.
    Viscous,
    /// Amplitude of the cube's pull to its stops.
    Detent,
}

impl Parameter {
    /// All, in the order of a fit's columns.
    pub const ALL: [Self; 4] = [Self::Inertia, Self::Coulomb, Self::Viscous, Self::Detent];

    /// For a person.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Inertia => "inertia of all that turns",
            Self::Coulomb => "Coulomb friction of layer and bearings",
            Self::Viscous => "viscous friction",
            Self::Detent => "pull to the stops",
        }
    }

    /// Its name with its unit; over the inertia where there were no currents.
    #[must_use]
    pub fn key(self, over_inertia: bool) -> &'static str {
        match (self, over_inertia) {
            (Self::Inertia, _) => "inertia_kg_m2",
            (Self::Coulomb, false) => "coulomb_n_m",
            (Self::Viscous, false) => "viscous_n_m_s",
            (Self::Detent, false) => "detent_n_m",
            (Self::Coulomb, true) => "coulomb_over_inertia_rad_s2",
            (Self::Viscous, true) => "viscous_over_inertia_per_s",
            (Self::Detent, true) => "detent_over_inertia_rad_s2",
        }
    }

    /// Its unit.
    #[must_use]
    pub fn unit(self, over_inertia: bool) -> &'static str {
        match (self, over_inertia) {
            (Self::Inertia, _) => "kg·m²",
            (Self::Viscous, false) => "N·m·s",
            (Self::Viscous, true) => "1/s",
            (_, false) => "N·m",
            (_, true) => "rad/s²",
        }
    }
}

/// A number and how surely it is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// Which.
    pub parameter: Parameter,
    /// Its value; where it is not determined, what the fit used: the drawn one, or what it
    /// found. Unit by [`Parameter::unit`].
    pub value: f64,
    /// Its standard error; `None` where the drawn value was used.
    pub error: Option<f64>,
    /// Its 95 % interval; likewise.
    pub interval: Option<[f64; 2]>,
    /// Why it cannot be determined from the logs; `None` where it is.
    pub open: Option<String>,
}

/// A limit of the drive.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// What is limited.
    pub kind: LimitKind,
    /// Largest value in the logs: N·m, rad/s or rad/s².
    pub largest: f64,
    /// The limit, where the logs reach it; of torque alone.
    pub reached: Option<f64>,
    /// How that was seen, or why not.
    pub because: String,
}

/// What a drive limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LimitKind {
    /// Torque, N·m.
    Torque,
    /// Speed, rad/s.
    Speed,
    /// Acceleration, rad/s².
    Acceleration,
}

impl LimitKind {
    /// Its name with its unit.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Torque => "torque_limit_n_m",
            Self::Speed => "speed_limit_rad_s",
            Self::Acceleration => "acceleration_limit_rad_s2",
        }
    }

    /// For a person.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Torque => "torque limit",
            Self::Speed => "speed limit",
            Self::Acceleration => "acceleration limit",
        }
    }

    /// Its unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Torque => "N·m",
            Self::Speed => "rad/s",
            Self::Acceleration => "rad/s²",
        }
    }
}

/// One move of the logs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoveSeen {
    /// Number of its log, from 1.
    pub log: usize,
    /// When it starts in it.
    pub start_s: f64,
    /// How far it goes, degrees.
    pub way_deg: f64,
    /// Its highest speed.
    pub top_speed_rad_s: f64,
    /// Friction, Coulomb and viscous together, at its top speed, by this move alone: N·m
    /// (rad/s² without currents); `None` where it does not tell.
    pub friction: Option<f64>,
}

/// How well the move that was kept out is predicted.
#[derive(Clone, Debug, PartialEq)]
pub struct HeldOut {
    /// Its number among the moves, from 1.
    pub number: usize,
    /// Root mean square error of the torque along the motion, over the torque's own (of the
    /// deceleration where there were no currents).
    pub torque_off_share: f64,
    /// Root mean square error of the angle when the motion is computed from the current
    /// alone, over the move's angle.
    pub angle_off_share: f64,
    /// Where that computed motion ends, off the measured end, degrees.
    pub end_off_deg: f64,
    /// How far the move goes, degrees, without sign.
    pub way_deg: f64,
    /// Whether it is of a slow log: torque may then be off by more.
    pub slow: bool,
    /// Time, s, and measured and predicted torque (deceleration), for a chart.
    pub torque: Vec<[f64; 3]>,
    /// Time, s, and measured and computed angle, degrees, for a chart.
    pub angle: Vec<[f64; 3]>,
}

impl HeldOut {
    /// Whether torque, angle and end are near enough.
    #[must_use]
    pub fn accepted(&self) -> bool {
        let (least_deg, share) = MOST_END_OFF;
        let torque = if self.slow { MOST_SLOW_OFF_SHARE } else { MOST_OFF_SHARE[0] };
        self.torque_off_share <= torque
            && self.angle_off_share <= MOST_OFF_SHARE[1]
            && self.end_off_deg.abs() <= least_deg.max(share * self.way_deg)
    }
}

/// How slow logs were fitted: by simulating the axis, under its drawn controller or coasting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlowFit {
    /// How far samples are apart, ms.
    pub step_ms: f64,
    /// What the simulated angles are off, root mean square, degrees.
    pub angle_off_deg: f64,
    /// What the simulated currents are off, root mean square, A; `None` of coasts, which have
    /// none.
    pub current_off_a: Option<f64>,
}

/// What the logs tell of the axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Identified {
    /// Whether there were no currents: numbers are over the inertia.
    pub over_inertia: bool,
    /// The drawn torque constant, N·m/A, that torques stand on.
    pub constant_n_m_per_a: f64,
    /// In the order of [`Parameter::ALL`]; no inertia where there were no currents.
    pub estimates: Vec<Estimate>,
    /// Friction, Coulomb and viscous together, at the mean speed of all rows: speed and
    /// value. It is sure also where the two cannot be told apart.
    pub friction_at: [f64; 2],
    /// Largest over smallest singular value of the fit's scaled columns.
    pub condition_ratio: f64,
    /// Samples in the fit.
    pub rows: usize,
    /// What the fit leaves of torque (deceleration), root mean square, over its own.
    pub misfit_share: f64,
    /// Corner of the low-pass; 0 for slow logs, which are not filtered.
    pub corner_hz: f64,
    /// The moves.
    pub moves: Vec<MoveSeen>,
    /// The one that was kept out.
    pub held_out: HeldOut,
    /// Torque, speed, acceleration; none where there were no currents.
    pub limits: Vec<Limit>,
    /// Fields of the scene's drive that follow.
    pub fields: Vec<DriveField>,
    /// What a person should know.
    pub warnings: Vec<String>,
    /// How slow logs were fitted; `None` where samples are at most 1 ms apart.
    pub slow: Option<SlowFit>,
}

impl Identified {
    /// A parameter's number, whether determined or not.
    #[must_use]
    pub fn estimate(&self, parameter: Parameter) -> Option<&Estimate> {
        self.estimates.iter().find(|estimate| estimate.parameter == parameter)
    }

    /// A parameter's value where it is determined.
    #[must_use]
    pub fn value(&self, parameter: Parameter) -> Option<f64> {
        let estimate = self.estimate(parameter).filter(|estimate| estimate.open.is_none())?;
        Some(estimate.value)
    }

    /// A limit, reached or not.
    #[must_use]
    pub fn limit(&self, kind: LimitKind) -> Option<&Limit> {
        self.limits.iter().find(|limit| limit.kind == kind)
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
