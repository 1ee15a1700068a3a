//! What shall be turned.

use dryturn_cube::{Turn, notation};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One turn, or two of opposite faces that run together.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Beat {
    /// One or two turns; two are of opposite faces.
    pub turns: Vec<Turn>,
}

/// The beats in order.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Plan {
    /// First to last.
    pub beats: Vec<Beat>,
}

impl Plan {
    /// Groups neighbouring turns of opposite faces into one beat.
    #[must_use]
    pub fn of_turns(turns: &[Turn]) -> Self {
        let mut beats: Vec<Beat> = Vec::new();
        for &turn in turns {
            match beats.last_mut().map(|beat| &mut beat.turns) {
                Some(last) if last.len() == 1 && last[0].face == turn.face.opposite() => {
                    last.push(turn);
                }
                _ => beats.push(Beat { turns: vec![turn] }),
            }
        }
        Self { beats }
    }

    /// All turns, first to last.
    #[must_use]
    pub fn turns(&self) -> Vec<Turn> {
        self.beats.iter().flat_map(|beat| beat.turns.iter().copied()).collect()
    }

    /// All turns in WCA notation.
    #[must_use]
    pub fn notation(&self) -> String {
        notation::format(&self.turns())
    }
}
