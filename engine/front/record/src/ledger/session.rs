//! The lines that frame a run of a script.

use std::collections::BTreeMap;

use dryturn_handoff::GuestFault;
use dryturn_rehearsal::{Pass, Verdict};
use dryturn_scene::Scene;
use dryturn_studies::scene_sha256;
use dryturn_units::noise::Seed;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{Expectation, digest};

/// What was run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StartLine {
    /// Version of the program.
    pub dryturn: String,
    /// The script's file, without its folders.
    pub script: String,
    /// SHA-256 of the script's text.
    pub script_sha256: String,
    /// Seed of everything that is drawn.
    pub seed: u64,
    /// Settings that were given, by name.
    pub settings: BTreeMap<String, String>,
}

impl StartLine {
    /// Of a script and what it is run with.
    #[must_use]
    pub fn of(script: &str, text: &str, seed: Seed, settings: &BTreeMap<String, String>) -> Self {
        Self {
            dryturn: env!("CARGO_PKG_VERSION").to_owned(),
            script: script.to_owned(),
            script_sha256: digest(text.as_bytes()),
            seed: seed.value(),
            settings: settings.clone(),
        }
    }
}

/// A scene as it is used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SceneLine {
    /// The scene's name.
    pub name: String,
    /// Where it was read from.
    pub file: String,
    /// SHA-256 of the scene as used, every field written out.
    pub scene_sha256: String,
}

impl SceneLine {
    /// Of a scene.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        Self {
            name: scene.file().name.clone(),
            file: scene.source_name().to_owned(),
            scene_sha256: scene_sha256(scene),
        }
    }
}

/// The verdict on a pass.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JudgeLine {
    /// Number of the trial whose errors the rig was built with.
    pub trial: u64,
    /// How the pass ended.
    pub verdict: Verdict,
    /// The guest that could not go on; absent where none failed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest_fault: Option<GuestFault>,
}

impl JudgeLine {
    /// Of a pass.
    #[must_use]
    pub fn of(pass: &Pass) -> Self {
        Self { trial: pass.trial, verdict: pass.verdict, guest_fault: pass.fault.clone() }
    }
}

/// What was expected.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExpectLine {
    /// In the script's words.
    pub message: String,
    /// Whether it held.
    pub held: bool,
    /// The figures in words, as in `97, wanted at least 98`.
    pub figures: String,
    /// Line of the script, from 1; null where it is of none.
    pub line: Option<usize>,
}

impl ExpectLine {
    /// Of an expectation.
    #[must_use]
    pub fn of(own: &Expectation) -> Self {
        let Expectation { message, held, figures, line } = own.clone();
        Self { message, held, figures, line }
    }
}

/// How a run of a script ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EndLine {
    /// How many expectations there were.
    pub expectations: usize,
    /// How many of them held.
    pub held: usize,
    /// Whether the run was ended before the script was; absent where it was not.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub unfinished: bool,
}
