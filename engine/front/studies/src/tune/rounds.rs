//! The race as it is told: its rounds, and its settings by how fast they are and how often they fail.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::candidate::Candidate;
use super::knobs::policy_name;
use super::race::Race;
use crate::failures::Failures;

/// One round of the race.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "RoundRecord")]
pub struct Round {
    /// Trials of each setting in it.
    pub trials: usize,
    /// Settings that began it.
    pub began: usize,
    /// Out because they surely fail too often.
    pub failing: usize,
    /// Out because they surely are slower.
    pub slower: usize,
    /// Out because there were no places for them.
    pub beyond: usize,
    /// Settings that stayed.
    pub stayed: usize,
    /// Median time of the best; null where nobody stayed.
    pub best_ms: Option<f64>,
}

/// Some settings of the race: how fast, how often failing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dot {
    /// Median of the completed executions, s.
    pub median_s: f64,
    /// Executions, and those that failed, by kind.
    pub failures: Failures,
    /// Whether no other of the race is both faster and fails less.
    pub frontier: bool,
    /// Its hand-over policy.
    pub policy: &'static str,
}

/// All of a race that completed anything, with its frontier marked.
pub(crate) fn dots(race: &Race) -> Vec<Dot> {
    let dot = |candidate: &Candidate| {
        Some(Dot {
            median_s: candidate.median_s()?,
            failures: candidate.failures(),
            frontier: false,
            policy: policy_name(candidate.scene.file().handover.policy),
        })
    };
    let mut dots: Vec<Dot> = race.finalists.iter().chain(&race.out).filter_map(dot).collect();
    let share = |dot: &Dot| dot.failures.share();
    for i in 0..dots.len() {
        let beaten =
            |other: &Dot| other.median_s < dots[i].median_s && share(other) <= share(&dots[i]);
        // Few trials say little.
        dots[i].frontier = dots[i].failures.trials() >= 16 && !dots.iter().any(beaten);
    }
    dots
}
