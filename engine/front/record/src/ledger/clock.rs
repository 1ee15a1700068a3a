//! From the start button to the last stop.

use dryturn_rehearsal::StartToStop;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// From the start button to the last stop, by part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PartsMs {
    /// The longest exposure of a camera, ms.
    pub exposure: f64,
    /// Reading out rolling shutters, ms.
    pub read_out: f64,
    /// The pictures' way to the host, ms.
    pub transfer: f64,
    /// Making a cube of the pictures, ms.
    pub reading: f64,
    /// Searching the plan, ms.
    pub search: f64,
    /// Turning it, ms.
    pub execution: f64,
}

impl PartsMs {
    /// Of the parts with their names, s.
    pub(super) fn of(parts: [(&str, f64); 6]) -> Self {
        let [exposure, read_out, transfer, reading, search, execution] =
            parts.map(|(_, seconds)| seconds * 1e3);
        Self { exposure, read_out, transfer, reading, search, execution }
    }
}

/// From the start button to the last stop, by part and as a whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClockMs {
    /// The parts.
    #[serde(flatten)]
    pub parts: PartsMs,
    /// The whole, ms.
    pub total: f64,
}

impl ClockMs {
    /// Of the clock.
    #[must_use]
    pub fn of(clock: &StartToStop) -> Self {
        Self { parts: PartsMs::of(clock.parts()), total: clock.total_s() * 1e3 }
    }
}
