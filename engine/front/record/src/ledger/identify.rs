//! The line about what logs of one axis tell of it.

use std::collections::BTreeMap;

use dryturn_metrology::motor::{
    DriveField, Estimate, HeldOut, Identified, Limit, MoveSeen, SlowFit,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// A number and how surely it is known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EstimateRecord {
    /// Its value; where it is not determined, what the fit used.
    pub value: f64,
    /// Its standard error; null where the drawn value was used.
    pub error: Option<f64>,
    /// Its 95 % interval; likewise.
    pub interval_95: Option<[f64; 2]>,
    /// Whether the logs determine it.
    pub determined: bool,
    /// Why they do not; null where they do.
    pub because: Option<String>,
}

impl EstimateRecord {
    fn of(own: &Estimate) -> Self {
        Self {
            value: own.value,
            error: own.error,
            interval_95: own.interval,
            determined: own.open.is_none(),
            because: own.open.clone(),
        }
    }
}

/// A limit of the drive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LimitRecord {
    /// The limit; null where the logs do not reach it.
    pub value: Option<f64>,
    /// Largest value in the logs.
    pub largest: f64,
    /// How that was seen, or why not.
    pub because: String,
}

impl LimitRecord {
    fn of(own: &Limit) -> Self {
        Self { value: own.reached, largest: own.largest, because: own.because.clone() }
    }
}

/// Friction at the mean speed of all rows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FrictionAt {
    /// That speed.
    pub speed_rad_s: f64,
    /// Friction, Coulomb and viscous together, N·m; rad/s² without currents.
    pub value: f64,
}

/// One move of the logs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MoveRecord {
    /// Number of its log, from 1.
    pub log: usize,
    /// When it starts in it.
    pub start_s: f64,
    /// How far it goes.
    pub way_deg: f64,
    /// Its highest speed.
    pub top_speed_rad_s: f64,
    /// Friction at that speed by this move alone, N·m; rad/s² without currents; null where it does
    /// not tell.
    pub friction: Option<f64>,
}

impl MoveRecord {
    fn of(own: &MoveSeen) -> Self {
        let MoveSeen { log, start_s, way_deg, top_speed_rad_s, friction } = *own;
        Self { log, start_s, way_deg, top_speed_rad_s, friction }
    }
}

/// How well the move that was kept out is predicted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HeldOutRecord {
    /// Its number, from 1.
    pub number: usize,
    /// Root mean square error of the torque, over the torque's own; null where the move is too short
    /// to be predicted.
    pub torque_off_share: Option<f64>,
    /// Root mean square error of the computed angle, over the move's angle; likewise.
    pub angle_off_share: Option<f64>,
    /// Where the computed motion ends, off the measured end; likewise.
    pub end_off_deg: Option<f64>,
    /// Whether torque, angle and end are near enough.
    pub accepted: bool,
}

impl HeldOutRecord {
    fn of(own: &HeldOut) -> Self {
        Self {
            number: own.number,
            torque_off_share: finite(own.torque_off_share),
            angle_off_share: finite(own.angle_off_share),
            end_off_deg: finite(own.end_off_deg),
            accepted: own.accepted(),
        }
    }
}

/// A field of the scene's drive that follows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DriveFieldRecord {
    /// Its name.
    pub field: String,
    /// As the scene has it.
    pub drawn: f64,
    /// As measured.
    pub measured: f64,
}

impl DriveFieldRecord {
    fn of(own: &DriveField) -> Self {
        Self { field: own.name.to_owned(), drawn: own.drawn, measured: own.measured }
    }
}

/// How slow logs were fitted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SlowRecord {
    /// How far samples are apart.
    pub step_ms: f64,
    /// What the simulated angles are off, root mean square.
    pub angle_off_deg: f64,
    /// What the simulated currents are off; null of coasts, which have none.
    pub current_off_a: Option<f64>,
}

impl SlowRecord {
    fn of(own: &SlowFit) -> Self {
        let SlowFit { step_ms, angle_off_deg, current_off_a } = *own;
        Self { step_ms, angle_off_deg, current_off_a }
    }
}

/// What logs of one axis tell of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct IdentifyLine {
    /// Whether there were no currents: numbers are over the inertia.
    pub over_inertia: bool,
    /// The drawn torque constant that torques stand on.
    pub constant_n_m_per_a: f64,
    /// By name with unit.
    pub estimates: BTreeMap<String, EstimateRecord>,
    /// By name with unit.
    pub limits: BTreeMap<String, LimitRecord>,
    /// Friction, sure also where its parts cannot be told apart.
    pub friction_at: FrictionAt,
    /// Largest over smallest singular value of the fit's scaled columns.
    pub condition_ratio: Option<f64>,
    /// Samples in the fit.
    pub rows: usize,
    /// What the fit leaves of the torque, root mean square, over its own.
    pub misfit_share: f64,
    /// Corner of the low-pass; 0 for slow logs, which are not filtered.
    pub corner_hz: f64,
    /// The moves.
    pub moves: Vec<MoveRecord>,
    /// How well the move that was kept out is predicted.
    pub held_out: HeldOutRecord,
    /// Fields of the scene's drive that follow.
    pub fields: Vec<DriveFieldRecord>,
    /// What a person should know.
    pub warnings: Vec<String>,
    /// How slow logs were fitted; null where samples are at most 1 ms apart.
    pub slow: Option<SlowRecord>,
}

impl IdentifyLine {
    /// Of what logs tell.
    #[must_use]
    pub fn of(found: &Identified) -> Self {
        let over = found.over_inertia;
        let estimate =
            |own: &Estimate| (own.parameter.key(over).to_owned(), EstimateRecord::of(own));
        let limit = |own: &Limit| (own.kind.key().to_owned(), LimitRecord::of(own));
        let [speed_rad_s, value] = found.friction_at;
        Self {
            over_inertia: over,
            constant_n_m_per_a: found.constant_n_m_per_a,
            estimates: found.estimates.iter().map(estimate).collect(),
            limits: found.limits.iter().map(limit).collect(),
            friction_at: FrictionAt { speed_rad_s, value },
            condition_ratio: finite(found.condition_ratio),
            rows: found.rows,
            misfit_share: found.misfit_share,
            corner_hz: found.corner_hz,
            moves: found.moves.iter().map(MoveRecord::of).collect(),
            held_out: HeldOutRecord::of(&found.held_out),
            fields: found.fields.iter().map(DriveFieldRecord::of).collect(),
            warnings: found.warnings.clone(),
            slow: found.slow.as_ref().map(SlowRecord::of),
        }
    }
}
