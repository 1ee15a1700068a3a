//! The line of ways to read, compared.

use dryturn_handoff::GuestFault;
use dryturn_studies::{ReaderCounts, ReaderTable, ReaderTally, Way};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One way to read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReaderRow {
    /// The way, as `reader.method` names it; `Guest` is that of a guest.
    pub method: String,
    /// What the guest calls itself; absent from Dryturn's own ways.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest: Option<String>,
    /// How many it got right.
    #[serde(flatten)]
    pub counts: ReaderCounts,
    /// Upper end of Wilson's 95 % interval of the share of wrong cubes among those read.
    pub wrong_wilson_95_high: f64,
    /// Exact one-sided 95 % upper bound of that share.
    pub wrong_exact_95_upper: f64,
    /// Mean squared difference of claim and outcome; null from readers that claim nothing.
    pub brier: Option<f64>,
    /// Readings that claim at least 99 %.
    pub claims_99: usize,
    /// How many of them were right.
    pub claims_99_right: usize,
    /// Seen facelets by true colour (row) and colour read (column), faces U R F D L B.
    pub confusion_true_by_read: [[usize; 6]; 6],
}

impl ReaderRow {
    fn of(tally: &ReaderTally) -> Self {
        let (wrong_wilson_95_high, wrong_exact_95_upper) = tally.wrong_at_most();
        let (claims_99, claims_99_right) = tally.claiming(0.99);
        Self {
            method: tally.way.to_string(),
            guest: match &tally.way {
                Way::Guest(name) => Some(name.to_string()),
                Way::Ours(_) => None,
            },
            counts: tally.counts,
            wrong_wilson_95_high,
            wrong_exact_95_upper,
            brier: tally.brier(),
            claims_99,
            claims_99_right,
            confusion_true_by_read: tally.confusion,
        }
    }
}

/// Ways to read, compared on scans of one kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadersLine {
    /// What a person calls the scans.
    pub name: String,
    /// Name of the scene in whose light the readers were calibrated.
    pub calibrated_in: String,
    /// Name of the scene that was scanned.
    pub scene: String,
    /// How many scans.
    pub scans: usize,
    /// By way, in the order in which they were asked for.
    pub readers: Vec<ReaderRow>,
    /// Scans in which a guest could not go on, which count as refused; absent where none read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest_faults: Option<usize>,
    /// Why, in the first of them; absent where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest_fault: Option<GuestFault>,
}

impl ReadersLine {
    /// Of a comparison.
    #[must_use]
    pub fn of(table: &ReaderTable) -> Self {
        Self {
            name: table.name.clone(),
            calibrated_in: table.calibrated_in.file().name.clone(),
            scene: table.read_in.file().name.clone(),
            scans: table.scans,
            readers: table.readers.iter().map(ReaderRow::of).collect(),
            guest_faults: table.guest.as_ref().map(|guest| guest.faults),
            guest_fault: table.guest.as_ref().and_then(|guest| guest.first_fault.clone()),
        }
    }
}
