//! What logs of an axis tell of it.

use super::block::DriveField;

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
