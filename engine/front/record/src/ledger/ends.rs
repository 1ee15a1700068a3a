//! What ended an execution, or brought a face to a stand.

use dryturn_cube::Face;
use dryturn_handoff::{Jam, JamVerdict, LateReason, Meeting, Stop};
use dryturn_studies::CauseKind;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// A face that a neighbour in its way brought to a stand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JamRecord {
    /// When it met the neighbour, from the first command.
    pub time_ms: f64,
    /// The beat that was blocked, from 1.
    pub beat: usize,
    /// The two faces.
    #[serde(flatten)]
    pub met: Meeting,
    /// Largest torque in the shaft that came nearer to its strength.
    pub peak_torque_n_m: f64,
    /// Strength of that shaft over that torque; null where there was none.
    pub safety_factor: Option<f64>,
    /// What became of it.
    pub verdict: JamVerdict,
    /// When the drives noticed, from the first command; null where they did not.
    pub noticed_ms: Option<f64>,
    /// What is most to blame for the late face being off, a clause.
    pub blame: String,
    /// The same as a name.
    pub blame_kind: LateReason,
    /// How far that had it off.
    pub blame_deg: f64,
}

impl JamRecord {
    /// Of a jam.
    #[must_use]
    pub fn of(jam: &Jam) -> Self {
        Self {
            time_ms: jam.time_s * 1e3,
            beat: jam.beat + 1,
            met: jam.met,
            peak_torque_n_m: jam.peak_torque_n_m,
            safety_factor: finite(jam.safety_factor_ratio),
            verdict: jam.verdict,
            noticed_ms: jam.noticed_s.map(|s| s * 1e3),
            blame: jam.blame.words(jam.met.late_face),
            blame_kind: jam.blame.reason,
            blame_deg: jam.blame.off_deg,
        }
    }
}

/// What else than a jam broke a run off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StopRecord {
    /// When, from the first command.
    pub time_ms: f64,
    /// The last beat that had begun, from 1.
    pub beat: usize,
    /// Why, in words.
    pub cause: String,
    /// Why, by a name that does not change.
    pub kind: CauseKind,
    /// The face that it is about; null where it is about none.
    pub face: Option<Face>,
}

impl StopRecord {
    /// Of a stop.
    #[must_use]
    pub fn of(stop: &Stop) -> Self {
        Self {
            time_ms: stop.time_s * 1e3,
            beat: stop.beat + 1,
            cause: stop.cause.to_string(),
            kind: stop.cause.into(),
            face: stop.cause.face(),
        }
    }
}
