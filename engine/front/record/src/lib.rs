//! What is written down: the ledger, and every document that a command prints with `--json` or
//! writes into its output folder. Each is a type that can be written and read back, with a JSON
//! Schema ([`schema`]) from which the tables of keys are made ([`tables`]).
//!
//! Numbers that are infinite, or none, are null.

mod classes;
pub mod documents;
mod expectation;
pub mod ledger;
mod left;
pub mod schema;
mod survey;
pub mod tables;

pub use self::classes::{ClassRecord, ClassesDocument, LightRecord};
pub use self::expectation::Expectation;
pub use self::left::{Exhibit, Record, ShownIdentification, ShownOverlay, ShownRun, Sweep};
pub use self::survey::{
    ApartRecord, CameraRecord, ChangeRecord, ExpectedRecord, FaceletRecord, HiddenBy, MarginRecord,
    MarginsRecord, MountAllowance, MountsRecord, ShiftPx, SurveyRecord,
};
pub use dryturn_studies::{digest, json, json_text};

use dryturn_studies::finite;
