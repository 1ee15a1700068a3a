//! Documents about scripts, checks, sets, folders and tables.

use std::collections::BTreeMap;

use dryturn_cube::{Face, Facelet};
use dryturn_scene::Derived;
use dryturn_studies::{Finding, Severity};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::ledger::ExpectLine;

/// What came of one script.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScriptResult {
    /// The script's file.
    pub script: String,
    /// True where it was not run; there is then only `script` beside it. Absent where it was.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub not_run: bool,
    /// Why it ended early, in words; absent where it did not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
    /// The folder with what it left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub out: Option<String>,
    /// What was expected, in order.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expectations: Option<Vec<ExpectLine>>,
    /// How many expectations did not hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failed: Option<usize>,
    /// What the script printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<Vec<String>>,
    /// Files below the folder.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub files: Option<Vec<String>>,
    /// Whether somebody ended it before it was done; absent where nobody did.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub unfinished: bool,
}

impl ScriptResult {
    /// Of a script that was not run yet.
    #[must_use]
    pub fn waiting(script: String) -> Self {
        Self {
            script,
            not_run: true,
            error: None,
            out: None,
            expectations: None,
            failed: None,
            notes: None,
            files: None,
            unfinished: false,
        }
    }
}

/// What came of scripts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RehearseDocument {
    /// Seed of everything that is drawn.
    pub seed: u64,
    /// The worst of all scripts' exit codes.
    pub exit_code: u8,
    /// By script, in the order of the call.
    pub scripts: Vec<ScriptResult>,
    /// What is wrong with the call as a whole, in words; absent where nothing is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
}

/// A camera of a checked scene.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckedCamera {
    /// Its name.
    pub name: String,
    /// How many facelets are read from it.
    pub facelets: usize,
    /// Of which faces.
    pub faces: Vec<Face>,
}

/// Something strange about a valid scene.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FindingRecord {
    /// What kind of thing it is, by a name that does not change.
    pub kind: String,
    /// How bad it is.
    pub severity: Severity,
    /// Path of the field to look at first.
    pub field: String,
    /// The figures that it follows from; names end in their unit.
    pub figures: BTreeMap<String, Option<f64>>,
    /// What is strange.
    pub says: String,
    /// What to change.
    pub change: String,
}

impl FindingRecord {
    /// Of a finding.
    #[must_use]
    pub fn of(own: &Finding) -> Self {
        let figures = own.figures.iter();
        Self {
            kind: own.kind.name().to_owned(),
            severity: own.severity,
            field: own.field.clone(),
            figures: figures.map(|(name, v)| ((*name).to_owned(), crate::finite(*v))).collect(),
            says: own.says.clone(),
            change: own.change.clone(),
        }
    }
}

/// A figure of a scene that follows from others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DerivedRecord {
    /// What it is.
    pub what: String,
    /// The field that would set it; null where there is none.
    pub field: Option<String>,
    /// Its value.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// Whether it was given.
    pub given: bool,
    /// What it follows from.
    pub from: String,
}

impl DerivedRecord {
    /// Of a derived figure.
    #[must_use]
    pub fn of(own: &Derived) -> Self {
        Self {
            what: own.what.to_owned(),
            field: own.field.map(str::to_owned),
            value: own.value,
            unit: own.unit.to_owned(),
            given: own.given,
            from: own.from.clone(),
        }
    }
}

/// What a file comes to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum CheckedFile {
    /// A scene.
    Scene {
        /// The file.
        file: String,
        /// Whether its cameras read anything.
        fine: bool,
        /// `scene`.
        kind: String,
        /// The scene's name.
        name: String,
        /// By camera.
        cameras: Vec<CheckedCamera>,
        /// Facelets that no camera sees.
        hidden: Vec<Facelet>,
        /// What is strange about it.
        findings: Vec<FindingRecord>,
        /// Figures that follow from others.
        derived: Vec<DerivedRecord>,
    },
    /// A script.
    Script {
        /// The file.
        file: String,
        /// Whether its syntax and verbs are.
        fine: bool,
        /// `script`.
        kind: String,
    },
    /// Something that is neither, or is wrong.
    Wrong {
        /// The file.
        file: String,
        /// False.
        fine: bool,
        /// All that is wrong, in words.
        error: String,
        /// The same, one by one.
        errors: Vec<String>,
    },
}

/// What files come to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckDocument {
    /// The worst of all files' exit codes.
    pub exit_code: u8,
    /// By file, in the order of the call.
    pub files: Vec<CheckedFile>,
}

/// A labelled set that was made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FramesDocument {
    /// Its folder.
    pub out: String,
    /// Scans.
    pub scans: usize,
    /// Pictures.
    pub frames: usize,
    /// Scans that are kept for validation.
    pub validation_scans: usize,
    /// Scans that an earlier call had made.
    pub resumed_scans: usize,
    /// How long it took, s; with `--timings` alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wall_s: Option<f64>,
    /// Pictures a second; with `--timings` alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frames_per_s: Option<f64>,
}

/// A folder for a rig that was made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NewDocument {
    /// The folder.
    pub folder: String,
    /// Files in it.
    pub files: Vec<String>,
}

/// One of the planner's tables.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TableRecord {
    /// Which.
    pub table: String,
    /// Its file.
    pub path: String,
    /// Its size.
    pub bytes: usize,
    /// Whether it is whole, was there, was built, or what is wrong with it.
    pub state: String,
    /// How long that took; with `--timings` alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seconds: Option<f64>,
}

/// The planner's tables.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TablesDocument {
    /// All of them.
    pub tables: Vec<TableRecord>,
}
