//! Documents about axes: drills, tuning, logs.

use dryturn_studies::TurningDrill;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;

use crate::ledger::{IdentifyLine, OverlayLine, TuneLine, TurningLine};

/// A field that was changed before the work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GivenSetting {
    /// Its path in the scene.
    pub field: String,
    /// Its value, as a person writes it.
    pub value: String,
}

/// One drill of several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrillOfOne {
    /// The value of the field that is compared.
    pub value: Json,
    /// What came of it.
    #[serde(flatten)]
    pub figures: TurningLine,
}

/// A drill of the axes, or several that differ in one field.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrillAxesDocument {
    /// The scene's file.
    pub file: String,
    /// Seed of everything that is drawn.
    pub seed: u64,
    /// Fields that were changed before.
    pub settings: Vec<GivenSetting>,
    /// The exit code: 1 where something speaks against it.
    pub exit_code: u8,
    /// What speaks against it, one sentence each.
    pub objections: Vec<String>,
    /// What came of it.
    #[serde(flatten)]
    pub drilled: Drilled,
}

/// What came of one drill, or of several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Drilled {
    /// Of several that differ in one field.
    Several {
        /// The field that is compared.
        compare: String,
        /// By value of that field.
        drills: Vec<DrillOfOne>,
    },
    /// Of one.
    One(Box<TurningLine>),
}

impl DrillOfOne {
    /// At a value of the field that is compared.
    #[must_use]
    pub fn of(value: Json, drill: &TurningDrill) -> Self {
        Self { value, figures: TurningLine::of(drill) }
    }
}

/// What tuning came to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TuneDocument {
    /// The scene's file.
    pub file: String,
    /// Seed of everything that is drawn.
    pub seed: u64,
    /// What came of it.
    #[serde(flatten)]
    pub tuning: TuneLine,
}

/// What logs of one axis tell of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct IdentifyDocument {
    /// The scene's file.
    pub scene: String,
    /// The logs' files.
    pub logs: Vec<String>,
    /// What they tell.
    #[serde(flatten)]
    pub found: IdentifyLine,
    /// Lines for the scene's drive block.
    pub block: String,
}

/// A log laid over the simulated run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OverlayDocument {
    /// The scene's file.
    pub file: String,
    /// The log's file.
    pub log: String,
    /// What anybody who goes on to real hardware must know.
    pub cautions: Vec<String>,
    /// What it tells.
    #[serde(flatten)]
    pub overlay: OverlayLine,
}
