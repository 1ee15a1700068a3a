//! A reading compared with the truth.

use dryturn_cube::{CubeState, Face, Facelet, FaceletKind};
use dryturn_handoff::Reading;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A facelet that was read wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "MistakeRecord")]
pub struct Mistake {
    /// The facelet.
    pub facelet: Facelet,
    /// What was read.
    pub read: Face,
    /// What it is.
    pub truth: Face,
}

/// A reading compared with the truth.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Score {
    /// Facelets, seen or inferred, that came out wrong.
    pub mistakes: Vec<Mistake>,
    /// Whether a state was read, and whether it is the true one.
    pub state: Option<bool>,
}

impl Score {
    /// Compares a reading with the true state.
    #[must_use]
    pub fn of(reading: &Reading, truth: &CubeState) -> Self {
        let colours = truth.colours();
        let mistakes = Facelet::all()
            .filter(|facelet| facelet.kind() != FaceletKind::Centre)
            .filter_map(|facelet| {
                let (read, truth) = (reading.colour(facelet)?, colours[facelet.index()]);
                (read != truth).then_some(Mistake { facelet, read, truth })
            })
            .collect();
        Self { mistakes, state: reading.state().map(|state| state == truth) }
    }

    /// Whether the true state was read.
    #[must_use]
    pub fn right(&self) -> bool {
        self.state == Some(true)
    }

    /// Whether any facelet was taken for the other of two colours.
    #[must_use]
    pub fn confused(&self, one: Face, other: Face) -> bool {
        self.mistakes.iter().any(|m| [[one, other], [other, one]].contains(&[m.read, m.truth]))
    }
}
