//! JSON Schemas (draft 2020-12) of everything that is written down, by name.

use dryturn_studies::RigPlanDocument;
use dryturn_studies::sets::{CocoDocument, Manifest};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};

use crate::classes::ClassesDocument;
use crate::documents::{ErrorDocument, Issued};
use crate::ledger::Entry;

/// One thing that is written down.
#[derive(Clone, Copy, Debug)]
pub struct Named {
    /// Its name.
    pub name: &'static str,
    /// What it is, and where it is found.
    pub what: &'static str,
    make: fn() -> Schema,
}

impl Named {
    /// Its schema.
    #[must_use]
    pub fn schema(&self) -> Schema {
        (self.make)()
    }
}

/// The schema of what is written: a key that may be null is there all the same.
fn of<T: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<T>()
}

/// All of them.
pub const ALL: [Named; 7] = [
    Named {
        name: "ledger",
        what: "a line of `ledger.jsonl`, which `rehearse` writes for each script",
        make: of::<Entry>,
    },
    Named {
        name: "document",
        what: "what a command prints with `--json`, and writes below `--out`",
        make: of::<Issued>,
    },
    Named {
        name: "error",
        what: "what a command prints with `--json` where it could not do its work",
        make: of::<ErrorDocument>,
    },
    Named { name: "manifest", what: "`manifest.json` of a labelled set", make: of::<Manifest> },
    Named {
        name: "coco",
        what: "`coco-train.json` and `coco-validation.json` of a labelled set",
        make: of::<CocoDocument>,
    },
    Named { name: "classes", what: "`classes.json` of a calibration", make: of::<ClassesDocument> },
    Named {
        name: "rig-plan",
        what: "`rig-plan.json` beside the turns for a firmware",
        make: of::<RigPlanDocument>,
    },
];

/// What has this name.
#[must_use]
pub fn named(name: &str) -> Option<&'static Named> {
    ALL.iter().find(|own| own.name == name)
}
