//! A face that ran into a neighbour.

use core::fmt;

use dryturn_cube::Face;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// What became of a face that ran into a neighbour and was brought to a stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum JamVerdict {
    /// The late face gave way in the end; where the run ended with it, too late for the
    /// drives, which had cut the torque.
    #[serde(rename = "pushed through")]
    PushedThrough,
    /// Nothing gave way.
    #[serde(rename = "stalled")]
    Stalled,
    /// A shaft broke.
    #[serde(rename = "shaft broken")]
    ShaftBroken,
}

impl JamVerdict {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::PushedThrough => "pushed through",
            Self::Stalled => "stalled",
            Self::ShaftBroken => "shaft broken",
        }
    }
}

/// Why a face is not at its stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LateReason {
    /// It was still in its turn: its neighbour was released too early.
    ReleasedEarly,
    /// Its controller had it off its stop.
    HeldOff,
    /// Friction had wound up its shaft.
    WoundUp,
    /// Its encoder sits off its face.
    EncoderOff,
}

/// What is most to blame for a face being off its stop.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Blame {
    /// Which.
    pub reason: LateReason,
    /// How far it had the face off, degrees, without a sign.
    #[serde(with = "finite::no_number")]
    #[schemars(schema_with = "finite::or_null")]
    pub off_deg: f64,
}

impl Blame {
    /// As a clause about the face.
    #[must_use]
    pub fn words(&self, face: Face) -> String {
        let because = match self.reason {
            LateReason::ReleasedEarly => {
                return format!("{face} was still in its turn: it was released too early");
            }
            LateReason::HeldOff => "its controller had it off its stop",
            LateReason::WoundUp => "friction had wound up its shaft",
            LateReason::EncoderOff => "its encoder sits off its face",
        };
        format!("{face} stood off mostly because {because} ({:.2}°)", self.off_deg)
    }
}

// Its schema is that of the ledger's jams, which knows no null.
/// Two faces that met, one of them not at its stop.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Meeting {
    /// The face that was not at its stop.
    pub late_face: Face,
    /// How far it was off; clockwise positive.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub late_angle_deg: f64,
    /// How far it may be off, by the closed form.
    pub allowed_deg: f64,
    /// The face that was blocked.
    pub blocked_face: Face,
    /// How far that one had turned from its last stop; clockwise positive.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub blocked_angle_deg: f64,
}

/// A face that a neighbour in its way brought to a stand.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Jam {
    /// When it met the neighbour, seconds from the start.
    pub time_s: f64,
    /// Index of the beat that was blocked, from 0.
    pub beat: usize,
    /// The two faces.
    pub met: Meeting,
    /// Which of the two shafts came nearer to its strength.
    pub strained_face: Face,
    /// The largest torque in that shaft while it lasted.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub peak_torque_n_m: f64,
    /// The strength of that shaft over that torque.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub safety_factor_ratio: f64,
    /// What became of it.
    pub verdict: JamVerdict,
    /// When the drives noticed, seconds from the start; `None` where they did not.
    pub noticed_s: Option<f64>,
    /// Why the late face was off its stop.
    pub blame: Blame,
}

/// One sentence without its full stop.
impl fmt::Display for Jam {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Meeting { late_face, late_angle_deg, allowed_deg, blocked_face, .. } = self.met;
        write!(
            f,
            "beat {} at {:.1} ms: {blocked_face} could not turn, {late_face} was {:.2}° off its stop \
             (about {allowed_deg:.2}° pass), {} at {:.2} N·m in the shaft of {} (safety factor {:.2}); {}",
            self.beat + 1,
            self.time_s * 1e3,
            late_angle_deg.abs(),
            self.verdict.words(),
            self.peak_torque_n_m,
            self.strained_face,
            self.safety_factor_ratio,
            self.blame.words(late_face)
        )
    }
}
