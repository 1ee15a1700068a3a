//! Documents about layouts.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::survey::{ChangeRecord, SurveyRecord};

/// Another layout that a survey is held against.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Against {
    /// Name of the scene.
    pub scene: String,
    /// How many facelets are seen well enough there.
    pub evidence: usize,
    /// What changed from there.
    pub changes: Vec<ChangeRecord>,
}

/// A survey of a layout.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SurveyDocument {
    /// The scene's file.
    pub file: String,
    /// What was found.
    #[serde(flatten)]
    pub survey: SurveyRecord,
    /// What it is held against; absent where nothing was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub against: Option<Against>,
}
