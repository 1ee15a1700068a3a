//! The line about tuning.

use dryturn_studies::{Dot, NotTuned, Round, Tuning, Varied, scene_sha256};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::shares::KindCount;
use super::tuned::FoundRecord;
use super::turning::TurningLine;

/// Settings that no other of the race beats in time and failures both.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DotRecord {
    /// Median of the completed executions.
    pub median_ms: f64,
    /// Executions that failed.
    pub failures: usize,
    /// Executions.
    pub trials: usize,
    /// Failures by kind.
    pub kinds: Vec<KindCount>,
    /// The hand-over's policy.
    pub policy: String,
}

impl DotRecord {
    fn of(dot: &Dot) -> Self {
        Self {
            median_ms: dot.median_s * 1e3,
            failures: dot.failures.count(),
            trials: dot.failures.trials(),
            kinds: KindCount::all(&dot.failures),
            policy: dot.policy.to_owned(),
        }
    }
}

/// What tuning came to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TuneLine {
    /// Name of the scene.
    pub scene: String,
    /// SHA-256 of the scene as used.
    pub scene_sha256: String,
    /// Fewer executions than this share may fail, at 95 % confidence.
    pub jam_rate: f64,
    /// Strength of the weakest shaft over the torque limit, at least.
    pub static_safety_factor: f64,
    /// Settings that the race began with.
    pub candidates: usize,
    /// Fresh trials of the proof.
    pub proof_trials: usize,
    /// Fields that might change beside the usual ones, or in another range.
    pub allow: Vec<Varied>,
    /// Fields that had to stay.
    pub keep: Vec<String>,
    /// Fields that were free.
    pub fields: Vec<String>,
    /// The race.
    pub rounds: Vec<Round>,
    /// Settings that no other beats in time and failures both.
    pub frontier: Vec<DotRecord>,
    /// What was found; null where nothing was.
    pub found: Option<Box<FoundRecord>>,
    /// Where none keeps the target: those that came nearest; else null.
    pub nearest: Option<Box<TurningLine>>,
    /// Why nothing was found; null where something was.
    pub because: Option<String>,
}

impl TuneLine {
    /// Of a tuning.
    #[must_use]
    pub fn of(tuning: &Tuning) -> Self {
        let request = &tuning.request;
        let frontier = tuning.dots.iter().filter(|dot| dot.frontier);
        Self {
            scene: request.scene.file().name.clone(),
            scene_sha256: scene_sha256(&request.scene),
            jam_rate: request.target.jam_rate,
            static_safety_factor: request.target.static_safety_ratio,
            candidates: request.candidates,
            proof_trials: request.proof,
            allow: request.allow.iter().map(Varied::of).collect(),
            keep: request.keep.clone(),
            fields: tuning.fields.clone(),
            rounds: tuning.rounds.clone(),
            frontier: frontier.map(DotRecord::of).collect(),
            found: tuning.found.as_ref().ok().map(|tuned| Box::new(FoundRecord::of(tuned))),
            nearest: match &tuning.found {
                Err(NotTuned::NoneKeeps { drill, .. }) => Some(Box::new(TurningLine::of(drill))),
                _ => None,
            },
            because: tuning.found.as_ref().err().map(ToString::to_string),
        }
    }
}
