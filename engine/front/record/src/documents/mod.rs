//! What commands print with `--json` and write into their output folders: one JSON document each.

mod axes;
mod camera;
mod guests;
mod plans;
mod reading;
mod runs;
mod scenes;
mod verbs;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use self::axes::{
    DrillAxesDocument, DrillOfOne, Drilled, GivenSetting, IdentifyDocument, OverlayDocument,
    TuneDocument,
};
pub use self::camera::{
    CameraDocument, LeftOutFigure, LensRecord, MeasuredPart, MountPoint, MountRecord, PictureRms,
    PlaneRecord, SensorRecord, Uncertain,
};
pub use self::guests::GuestDocument;
pub use self::plans::{
    CurveRow, FirstFailure, FollowDocument, MeanMax, OneMean, PlanDocument, PlanRecord,
    PlansRecord, RigRecord, SearchMs, Spread, TextbookMeans, TextbookRecord, TurnSpread,
};
pub use self::reading::{
    CalibrateDocument, FaceletSource, ReadDocument, RunnerUpRecord, SeenFacelet, WrongByWay,
};
pub use self::runs::{
    CheckDocument, CheckedCamera, CheckedFile, DerivedRecord, FindingRecord, FramesDocument,
    NewDocument, RehearseDocument, ScriptResult, TableRecord, TablesDocument,
};
pub use self::scenes::{Against, SurveyDocument};
pub use self::verbs::{ExampleName, Verb, VerbArgument, VerbsDocument};

/// Version of the documents' keys. A key that is renamed, dropped or comes to mean something
/// else makes a new one; a key that is added does not.
pub const VERSION: u32 = 2;

/// What a command says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "command", rename_all = "snake_case")]
pub enum Document {
    /// `dryturn calibrate`.
    Calibrate(Box<CalibrateDocument>),
    /// `dryturn camera`.
    Camera(CameraDocument),
    /// `dryturn check`.
    Check(CheckDocument),
    /// `dryturn drill-axes`.
    #[serde(rename = "drill-axes")]
    DrillAxes(Box<DrillAxesDocument>),
    /// `dryturn follow`.
    Follow(FollowDocument),
    /// `dryturn frames`.
    Frames(FramesDocument),
    /// `dryturn guest check`.
    Guest(GuestDocument),
    /// `dryturn identify`.
    Identify(Box<IdentifyDocument>),
    /// `dryturn new`.
    New(NewDocument),
    /// `dryturn overlay`.
    Overlay(Box<OverlayDocument>),
    /// `dryturn plan`.
    Plan(Box<PlanDocument>),
    /// `dryturn read`.
    Read(Box<ReadDocument>),
    /// `dryturn rehearse`.
    Rehearse(RehearseDocument),
    /// `dryturn survey`.
    Survey(Box<SurveyDocument>),
    /// `dryturn tables`.
    Tables(TablesDocument),
    /// `dryturn tune`.
    Tune(Box<TuneDocument>),
    /// `dryturn verbs`.
    Verbs(VerbsDocument),
}

/// A document with the version of its keys.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Issued {
    /// Version of the documents' keys.
    pub document_version: u32,
    /// What it says.
    #[serde(flatten)]
    pub document: Document,
}

impl From<Document> for Issued {
    fn from(document: Document) -> Self {
        Self { document_version: VERSION, document }
    }
}

/// What a command says that could not do its work, or was ended in the middle of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ErrorDocument {
    /// What is wrong, in words.
    pub error: String,
    /// The exit code: 1 what was asked for does not hold, 2 bad input, 3 a fault of the program,
    /// 130 and 143 somebody ended it.
    pub exit_code: u8,
}
