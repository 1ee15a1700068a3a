//! A plan as a rig follows it: what the encoders must show before each beat starts.

use core::fmt;

use dryturn_cube::{Face, Turn};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::plan::{Beat, Plan};

/// What an encoder must show before a beat starts. Angles are degrees since homing, of the
/// motor, clockwise positive.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Cue {
    /// Since its last turn started, the face has been within the sheet's window of that
    /// turn's end for as long as the sheet's dwell.
    Settled(Face),
    /// The face's encoder reads this or more.
    Above(Face, f64),
    /// The face's encoder reads this or less.
    Below(Face, f64),
}

impl Cue {
    /// The face that is looked at.
    #[must_use]
    pub fn face(self) -> Face {
        match self {
            Self::Settled(face) | Self::Above(face, _) | Self::Below(face, _) => face,
        }
    }
}

/// As a rig plan writes it: `U settled`, `U above 82.300`, `U below -82.300`.
impl fmt::Display for Cue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Settled(face) => write!(f, "{face} settled"),
            Self::Above(face, deg) => write!(f, "{face} above {deg:.3}"),
            Self::Below(face, deg) => write!(f, "{face} below {deg:.3}"),
        }
    }
}

/// A turn, and where it ends.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CuedTurn {
    /// What is turned.
    pub turn: Turn,
    /// What the encoder shall read at its end, degrees since homing; a wind-up that is made
    /// up for is in it.
    pub to_deg: f64,
}

/// Turns that start together, and when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CuedBeat {
    /// One turn, or two of opposite faces; none at the end of a sheet.
    pub turns: Vec<CuedTurn>,
    /// All of them must hold at one moment.
    pub cues: Vec<Cue>,
    /// So long after the start of the beat before (of the whole, for the first) they must
    /// hold, ms; if they do not, everything is stopped.
    pub time_out_ms: f64,
}

/// A whole plan with its cues. All figures are multiples of a thousandth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CueSheet {
    /// How near to its turn's end a settled face's encoder is, degrees.
    pub window_deg: f64,
    /// How long it must have been, ms.
    pub dwell_ms: f64,
    /// First to last.
    pub beats: Vec<CuedBeat>,
    /// When the whole is done: a beat without turns.
    pub end: CuedBeat,
}

impl CueSheet {
    /// The turns alone.
    #[must_use]
    pub fn plan(&self) -> Plan {
        let beat = |beat: &CuedBeat| Beat { turns: beat.turns.iter().map(|t| t.turn).collect() };
        Plan { beats: self.beats.iter().map(beat).collect() }
    }

    /// Whether any beat starts while a neighbour is still in its turn.
    #[must_use]
    pub fn overlaps(&self) -> bool {
        let early = |cue: &Cue| !matches!(cue, Cue::Settled(_));
        self.beats.iter().any(|beat| beat.cues.iter().any(early))
    }
}
