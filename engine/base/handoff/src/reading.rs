//! What was made of the pictures.

use dryturn_cube::{CubeState, Face, Facelet};
use dryturn_units::colour::EncodedRgb8;

/// How the colour at a place came to be known.
#[derive(Clone, Debug, PartialEq)]
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
    },
    /// Hidden from every camera: follows from the rest of its piece.
    Inferred,
    /// Hidden, and the rest leaves more than one possibility.
    Unknown,
}

/// The reading of one place.
#[derive(Clone, Debug, PartialEq)]
pub struct FaceletReading {
    /// The colour, as the face whose centre has it; `None` where unknown.
    pub colour: Option<Face>,
    /// Where it comes from.
    pub source: Source,
}

/// Whether the pictures make a cube.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// They do.
    Read(CubeState),
    /// They do not.
    Unreadable {
        /// Why, as a sentence that completes "unreadable, because …".
        because: String,
        /// The seen places with the least margin, weakest first.
        weakest: Vec<Facelet>,
    },
}

/// The reading of a whole cube.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// By facelet index, 54 entries.
    pub facelets: Vec<FaceletReading>,
    /// What it comes to.
    pub outcome: Outcome,
    /// How probable the most probable cube is, 0 to 1; `None` where the reader gives no
    /// probabilities.
    pub probability: Option<f64>,
}

impl Reading {
    /// The state, where there is one.
    #[must_use]
    pub fn state(&self) -> Option<&CubeState> {
        match &self.outcome {
            Outcome::Read(state) => Some(state),
            Outcome::Unreadable { .. } => None,
        }
    }

    /// The colour read at a place.
    #[must_use]
    pub fn colour(&self, facelet: Facelet) -> Option<Face> {
        self.facelets[facelet.index()].colour
    }
}
