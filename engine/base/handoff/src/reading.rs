//! What was made of the pictures.

use dryturn_cube::{CubeState, Face, Facelet};
use dryturn_units::colour::EncodedRgb8;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// How the colour at a place came to be known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// A centre: known by how the cube is mounted.
    Mounted,
    /// Classified from pixels.
    Seen {
        /// Index of the camera in the scene.
        camera: usize,
        /// Median colour of the usable pixels.
        colour: EncodedRgb8,
        /// How clearly it is this colour and not the second, 0 (a toss-up) to 1 (certain):
        /// the difference of their probabilities, or where there are none of their
        /// distances over the sum.
        margin: f64,
        /// The second-best colour.
        runner_up: Face,
        /// Share of usable pixels with a saturated channel, 0 to 1.
        saturated_share: f64,
        /// Log-likelihood of each colour, in the order U R F D L B, from this facelet alone;
        /// only differences count. Infinitely little is null as JSON.
        #[serde(with = "finite::minus_infinite")]
        #[schemars(with = "[Option<f64>; 6]")]
        log_likelihoods: [f64; 6],
    },
    /// Hidden from every camera: follows from the rest of its piece.
    Inferred,
    /// Hidden, and the rest leaves more than one possibility.
    Unknown,
    /// A reader from outside said so.
    Told {
        /// What it gave as log-likelihood of each colour, in the order U R F D L B; only
        /// differences count. `None` where it gave none; infinitely little is null as JSON.
        #[serde(default, with = "finite::minus_infinite")]
        #[schemars(with = "Option<[Option<f64>; 6]>")]
        log_likelihoods: Option<[f64; 6]>,
    },
}

/// The reading of one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FaceletReading {
    /// The colour, as the face whose centre has it; `None` where unknown.
    pub colour: Option<Face>,
    /// Where it comes from.
    pub source: Source,
}

/// Why pictures make no cube, by a name that does not change.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RefusalKind {
    /// Most of what is seen is as bright as the cameras show.
    TooBright,
    /// Most of what is seen is as dark as the cameras show.
    TooDark,
    /// Lamps are mirrored on most of what is seen.
    Glare,
    /// The pictures do not look like this cube in any light: of another rig or cube, out of order,
    /// mirrored, or with a face off its stop.
    Strange,
    /// What is seen fits a cube that cannot be turned to be solved: a twisted corner, a flipped
    /// edge, a face part-turned.
    Unsolvable,
    /// What is seen fits colours that no cube has.
    NoCube,
    /// Nothing shows the centres, so nothing tells how the cube is mounted.
    CentresHidden,
    /// The most probable cube is not probable enough.
    Uncertain,
    /// The colours of each facelet by itself break a law of the cube.
    Illegal,
    /// More than one cube fits.
    Several,
    /// Too many facelets are hidden.
    Hidden,
    /// A reader from outside said so, for a reason of its own.
    Told,
    /// A reader from outside gave no answer that can be used.
    Fault,
}

/// Whether the pictures make a cube.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// They do.
    Read(CubeState),
    /// They do not.
    Unreadable {
        /// Why.
        refusal: RefusalKind,
        /// The same as a sentence that completes "unreadable, because …".
        because: String,
        /// The seen places with the least margin, weakest first.
        weakest: Vec<Facelet>,
    },
}

/// The next most probable cube.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunnerUp {
    /// The cube.
    pub state: CubeState,
    /// Logarithm of how many times more probable the most probable cube is; infinite, and null as
    /// JSON, where this one cannot be.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub log_odds: f64,
}

/// What a camera's pictures say of where it stands and of its light.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CameraFound {
    /// How far it stands from the drawing, mm: right, down and forward in its own axes.
    pub shift_mm: [f64; 3],
    /// How far it is turned from the drawing, degrees, about the same axes.
    pub turn_deg: [f64; 3],
    /// By what factor each channel's light has changed since the calibration; 1 where that
    /// is not sought.
    pub light_ratio: [f64; 3],
}

impl CameraFound {
    /// How far it stands from the drawing, mm, and is turned from it, degrees.
    #[must_use]
    pub fn off_drawing(&self) -> (f64, f64) {
        let length = |v: [f64; 3]| v.iter().map(|v| v * v).sum::<f64>().sqrt();
        (length(self.shift_mm), length(self.turn_deg))
    }
}

/// Samples and colour classes in a plane of colour without brightness: natural logarithms
/// of red over green and of blue over green, in the sensor's own light, as they would be in
/// the light of the calibration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ColourPlane {
    /// Where each facelet's sample lies.
    pub samples: Vec<(Facelet, [f64; 2])>,
    /// Classes in the order U R F D L B: where the middle lies, and the covariance (first
    /// variance, covariance, second variance).
    pub classes: [([f64; 2], [f64; 3]); 6],
}

/// The reading of a whole cube.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reading {
    /// By facelet index, 54 entries.
    pub facelets: Vec<FaceletReading>,
    /// What it comes to.
    pub outcome: Outcome,
    /// The most probable cube, believed or not, from readers that give probabilities.
    pub most_probable: Option<CubeState>,
    /// How probable that cube is, 0 to 1; `None` where the reader gives no probabilities, or
    /// the pictures fit no cube at all.
    pub probability: Option<f64>,
    /// The next most probable cube, from the same reader.
    pub runner_up: Option<RunnerUp>,
    /// How the cube stands in the rig, as the face whose colour each of the faces U R F D L B
    /// of the rig shows at its centre; as drawn where the mounting is known.
    pub centres: [Face; 6],
    /// By camera, in the scene's order.
    pub cameras: Vec<CameraFound>,
    /// What making it of the samples took, in elementary steps: how probable one sample is as one
    /// colour in one light counts as one; at most millions.
    pub steps: u64,
    /// Whether it rests on what cube colours usually look like, not on a calibration.
    pub without_calibration: bool,
    /// Samples and classes, from readers that have such a plane.
    pub plane: Option<ColourPlane>,
}

impl Reading {
    /// Steps that a cube takes which is plain in the light of the calibration: of 200 scans that an
    /// outside renderer made of two cameras, the middle one took 9,588, the most 29,442.
    pub const USUAL_STEPS: u64 = 10_000;

    /// Of a reader that tells what the cube is, and nothing else of scan or cameras.
    #[must_use]
    pub fn told(outcome: Outcome, cameras: usize) -> Self {
        let colours = match &outcome {
            Outcome::Read(state) => Some(state.colours()),
            Outcome::Unreadable { .. } => None,
        };
        let facelet = |facelet: Facelet| FaceletReading {
            colour: colours.map(|colours| colours[facelet.index()]),
            source: Source::Told { log_likelihoods: None },
        };
        // It is not asked where the cameras stand.
        let found = CameraFound { light_ratio: [1.0; 3], ..CameraFound::default() };
        Self {
            facelets: Facelet::all().map(facelet).collect(),
            outcome,
            most_probable: None,
            probability: None,
            runner_up: None,
            centres: Face::ALL,
            cameras: vec![found; cameras],
            steps: 0,
            without_calibration: false,
            plane: None,
        }
    }

    /// The state, where there is one.
    #[must_use]
    pub fn state(&self) -> Option<&CubeState> {
        match &self.outcome {
            Outcome::Read(state) => Some(state),
            Outcome::Unreadable { .. } => None,
        }
    }

    /// Why there is none; `None` where there is one.
    #[must_use]
    pub fn refusal(&self) -> Option<RefusalKind> {
        match self.outcome {
            Outcome::Read(_) => None,
            Outcome::Unreadable { refusal, .. } => Some(refusal),
        }
    }

    /// The colour read at a place.
    #[must_use]
    pub fn colour(&self, facelet: Facelet) -> Option<Face> {
        self.facelets[facelet.index()].colour
    }
}
