//! What tuning is asked for.

use std::sync::Arc;

use dryturn_scene::{Place, Scene, SceneError, Variation};
use dryturn_statistics::{Z_95, wilson};
use serde_json::json;
use thiserror::Error;

use super::knobs::{self, Knob};

/// What the settings must keep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TuneTarget {
    /// Fewer executions than this share fail, at 95 % confidence (upper end of Wilson's
    /// two-sided interval); jams and other stops both count. Above 0, below 1.
    pub jam_rate: f64,
    /// Strength of the weakest shaft over the torque limit, at least; from 1.
    pub static_safety_ratio: f64,
}

impl TuneTarget {
    /// What the race aims at, so that the proof has room.
    pub(crate) fn aim(&self) -> f64 {
        0.5 * self.jam_rate
    }
}

/// What tuning is asked for.
#[derive(Clone, Debug)]
pub struct TuneRequest {
    /// The scene whose axes are tuned.
    pub scene: Arc<Scene>,
    /// What the settings must keep.
    pub target: TuneTarget,
    /// Settings that the race begins with, 8 to 1000.
    pub candidates: usize,
    /// Fresh trials of the proof.
    pub proof: usize,
    /// Fields that may change beside the usual ones, or in another range.
    pub allow: Vec<Variation>,
    /// Fields that stay as they are though tuning would change them.
    pub keep: Vec<String>,
}

/// Why a request makes no sense.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TuneFault {
    /// A number out of range.
    #[error("{what} is {value}: must be {allowed}")]
    Number {
        /// Which.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What is allowed.
        allowed: String,
    },
    /// A range that the scene does not allow.
    #[error("cannot tune {field}: {error}")]
    Scene {
        /// The field.
        field: String,
        /// What the scene says.
        error: SceneError,
    },
    /// A field that has nothing to do with the axes.
    #[error("cannot tune {field}: must be a field of {blocks}")]
    Foreign {
        /// The field.
        field: String,
        /// The blocks that can be tuned.
        blocks: &'static str,
    },
    /// A field that nobody would change.
    #[error("nothing to keep under {field}: tuning changes {fields}")]
    Keep {
        /// The field.
        field: String,
        /// What tuning changes.
        fields: String,
    },
    /// The same field twice.
    #[error("{field} is {what} twice")]
    Twice {
        /// The field.
        field: String,
        /// Allowed or kept.
        what: &'static str,
    },
}

/// Blocks whose fields may be allowed.
const BLOCKS: [&str; 6] = ["drive", "controller", "handover", "cube", "shafts", "supply"];
const BLOCKS_TEXT: &str = "drive, controller, handover, cube, shafts or supply";

impl TuneRequest {
    /// With the usual target: fewer than 1 % fail, shafts twice as strong as the torque
    /// limit; 64 settings, 2,000 trials of proof.
    #[must_use]
    pub fn of(scene: Arc<Scene>) -> Self {
        Self {
            scene,
            target: TuneTarget { jam_rate: 0.01, static_safety_ratio: 2.0 },
            candidates: 64,
            proof: 2000,
            allow: Vec::new(),
            keep: Vec::new(),
        }
    }

    /// Whether it can be tuned at all, before any work.
    ///
    /// # Errors
    /// A target, a count or a field that is none.
    pub fn check(&self) -> Result<(), TuneFault> {
        self.knobs().map(drop)
    }

    /// Checks the request; what may change.
    pub(crate) fn knobs(&self) -> Result<Vec<Knob>, TuneFault> {
        let number = |what, value: f64, fits: bool, allowed: &str| {
            let allowed = allowed.to_owned();
            if fits { Ok(()) } else { Err(TuneFault::Number { what, value, allowed }) }
        };
        let TuneTarget { jam_rate: rate, static_safety_ratio: safety } = self.target;
        number("the jam rate", rate, rate > 0.0 && rate < 1.0, "above 0, below 1")?;
        number("the safety factor", safety, (1.0..=100.0).contains(&safety), "1 to 100")?;
        let count = self.candidates;
        number("candidates", count as f64, (8..=1000).contains(&count), "8 to 1000")?;
        let least = least_trials(rate);
        let allowed = format!(
            "at least {least}, as many as it takes to show that fewer than {} % fail; at most 100000",
            100.0 * rate
        );
        let proof = self.proof;
        number("trials of the proof", proof as f64, (least..=100_000).contains(&proof), &allowed)?;

        let mut knobs = knobs::usual(&self.scene);
        self.take_out_kept(&mut knobs)?;
        self.put_in_allowed(&mut knobs)?;
        Ok(knobs)
    }

    fn places(&self, field: &str) -> Result<Vec<Place>, TuneFault> {
        let fault = |error| TuneFault::Scene { field: field.to_owned(), error };
        self.scene.places(field).map_err(fault)
    }

    /// Takes out what stays as it is.
    fn take_out_kept(&self, knobs: &mut Vec<Knob>) -> Result<(), TuneFault> {
        let mut kept: Vec<Place> = Vec::new();
        for field in &self.keep {
            for place in self.scene.places(field).unwrap_or_default() {
                if kept.iter().any(|other| other.is(&place)) {
                    return Err(TuneFault::Twice { field: field.clone(), what: "kept" });
                }
                kept.push(place);
            }
        }
        for field in &self.keep {
            let own = self.scene.places(field).unwrap_or_default();
            let is_own = |knob: &Knob| {
                let places = self.scene.places(&knob.field).unwrap_or_default();
                places.iter().all(|place| own.iter().any(|other| other.is(place)))
            };
            let (gone, left): (Vec<Knob>, Vec<Knob>) = knobs.drain(..).partition(is_own);
            *knobs = left;
            if gone.is_empty() || gone.len() < own.len() {
                let names: Vec<String> =
                    gone.iter().chain(&*knobs).map(|k| k.field.clone()).collect();
                let fields = names.join(", ");
                return Err(TuneFault::Keep { field: field.clone(), fields });
            }
        }
        Ok(())
    }

    /// Puts in what may change, instead of what it would change otherwise.
    fn put_in_allowed(&self, knobs: &mut Vec<Knob>) -> Result<(), TuneFault> {
        let mut before: Vec<Place> = Vec::new();
        for variation in &self.allow {
            let field = variation.path.clone();
            let foreign = |path: &str| {
                let block = path.split('.').next().unwrap_or_default();
                !BLOCKS.contains(&block)
            };
            // A field of no such block need not even be there.
            if field.split('+').all(|path| foreign(path.trim())) {
                return Err(TuneFault::Foreign { field, blocks: BLOCKS_TEXT });
            }
            let own = self.places(&field)?;
            if own.iter().any(|place| foreign(&place.path)) {
                return Err(TuneFault::Foreign { field, blocks: BLOCKS_TEXT });
            }
            if own.iter().any(|place| before.iter().any(|other| other.is(place))) {
                return Err(TuneFault::Twice { field, what: "allowed" });
            }
            for value in variation.values.ends() {
                let fault = |error| TuneFault::Scene { field: field.clone(), error };
                self.scene.with(&field, value).map_err(fault)?;
            }
            knobs.retain(|knob| {
                let places = self.scene.places(&knob.field).unwrap_or_default();
                !places.iter().any(|place| own.iter().any(|other| other.is(place)))
            });
            before.extend(own);
            // What others are bounded by comes first.
            knobs.insert(0, knobs::allowed(variation));
        }
        Ok(())
    }

    /// The tuned limits with the plainest timing: each beat waits until all faces are
    /// within the same settle window, without a dwell.
    pub(crate) fn waiting(&self, tuned: &Scene) -> Scene {
        let changes =
            [("handover.policy", json!("Settle")), ("handover.settle_dwell_ms", json!(0))];
        tuned.with_all(&changes).expect("a policy is allowed in every scene")
    }
}

/// Trials without a failure that show a rate.
fn least_trials(rate: f64) -> usize {
    let shown = |trials: usize| wilson(0, trials, Z_95).1 < rate;
    (1..=100_000).find(|&trials| shown(trials)).unwrap_or(100_000)
}
