//! JSON Schemas (draft 2020-12) of everything that is written down, by name.

use dryturn_studies::RigPlanDocument;
use dryturn_studies::sets::{CocoDocument, Manifest};
use schemars::{Schema, schema_for};

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

/// All of them.
pub const ALL: [Named; 7] = [
    Named {
        name: "ledger",
        what: "a line of `ledger.jsonl`, which `rehearse` writes for each script",
        make: || schema_for!(Entry),
    },
    Named {
        name: "document",
        what: "what a command prints with `--json`, and writes as `COMMAND.json`",
        make: || schema_for!(Issued),
    },
    Named {
        name: "error",
        what: "what a command prints with `--json` where it could not do its work",
        make: || schema_for!(ErrorDocument),
    },
    Named {
        name: "manifest",
        what: "`manifest.json` of a labelled set",
        make: || schema_for!(Manifest),
    },
    Named {
        name: "coco",
        what: "`coco-train.json` and `coco-validation.json` of a labelled set",
        make: || schema_for!(CocoDocument),
    },
    Named {
        name: "classes",
        what: "`classes.json` of a calibration",
        make: || schema_for!(ClassesDocument),
    },
    Named {
        name: "rig-plan",
        what: "`rig-plan.json` beside the turns for a firmware",
        make: || schema_for!(RigPlanDocument),
    },
];

/// What has this name.
#[must_use]
pub fn named(name: &str) -> Option<&'static Named> {
    ALL.iter().find(|own| own.name == name)
}
