//! Shares of trials, and failures by kind.

use dryturn_statistics::{Z_95, wilson};
use dryturn_studies::{FailureKind, Failures};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How many of all trials, with Wilson's 95 % interval.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Share {
    /// How many.
    pub count: usize,
    /// Lower end of the interval of the share.
    pub wilson_95_low: f64,
    /// Upper end.
    pub wilson_95_high: f64,
}

impl Share {
    /// Of so many trials.
    #[must_use]
    pub fn of(count: usize, trials: usize) -> Self {
        let (wilson_95_low, wilson_95_high) = wilson(count, trials, Z_95);
        Self { count, wilson_95_low, wilson_95_high }
    }
}

/// One kind of failure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct KindCount {
    /// The kind, by a name that does not change.
    pub kind: FailureKind,
    /// What that means, a sentence.
    pub says: String,
    /// How many, with the interval of their share.
    #[serde(flatten)]
    pub share: Share,
}

impl KindCount {
    /// Each kind that occurred, the most frequent first.
    #[must_use]
    pub fn all(failures: &Failures) -> Vec<Self> {
        let one = |(kind, count): (FailureKind, usize)| Self {
            kind,
            says: kind.sentence().to_owned(),
            share: Share::of(count, failures.trials()),
        };
        failures.split().into_iter().map(one).collect()
    }
}
