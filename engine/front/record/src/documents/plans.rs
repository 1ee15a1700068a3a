//! Documents about plans.

use std::collections::BTreeMap;

use dryturn_studies::FollowedCounts;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::axes::GivenSetting;

/// The textbook's plan, to compare with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TextbookRecord {
    /// In WCA notation.
    pub plan: String,
    /// How many turns.
    pub turns: usize,
    /// Machine time in quarter turns.
    pub cost: f64,
    /// Predicted time on the scene's drive; null without a scene, and where the drive does not get
    /// through.
    pub predicted_ms: Option<f64>,
}

/// What was made of a plan for a rig.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RigRecord {
    /// Share of the rig's torque above friction that it may use.
    pub ceiling_share: f64,
    /// Whether following it is safe by its proof.
    pub safe: bool,
    /// Whether turns begin before others end.
    pub overlaps: bool,
    /// By what a turn is started.
    pub starts_by: String,
    /// Executions of the proof.
    pub executions: usize,
    /// Those in which nothing was even pushed.
    pub clean: usize,
    /// At most this share fails, at 95 % confidence.
    pub fail_at_most_share: f64,
    /// Files that were written.
    pub files: Vec<String>,
}

/// A plan for one state.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanRecord {
    /// The cube: six named faces of three rows.
    pub faces: String,
    /// In WCA notation.
    pub plan: String,
    /// How many turns, half turns counting once.
    pub turns: usize,
    /// One or two turns each.
    pub beats: Vec<String>,
    /// Nodes that the search took.
    pub nodes: u64,
    /// Machine time in quarter turns.
    pub cost: f64,
    /// No plan costs less than this: turns with `--objective turns`, else quarter turns.
    pub none_below: f64,
    /// Whether it is proved that no plan is better.
    pub proved: bool,
    /// Which of the planner's tables served.
    pub tables: String,
    /// Predicted time on the scene's drive, with `--for-rig` at its ceiling; null without a scene, and
    /// where the drive does not get through.
    pub predicted_ms: Option<f64>,
    /// The textbook's plan.
    pub textbook: TextbookRecord,
    /// What was made of it for a rig; absent where that was not asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rig: Option<RigRecord>,
}

/// Mean and largest of some figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeanMax {
    /// The mean.
    pub mean: f64,
    /// The largest.
    pub max: f64,
}

/// A mean.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OneMean {
    /// The mean.
    pub mean: f64,
}

/// How often each whole number comes, by the number.
pub type Spread = BTreeMap<String, u64>;

/// Numbers of turns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TurnSpread {
    /// The mean.
    pub mean: f64,
    /// The largest; absent of beats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max: Option<f64>,
    /// How often each number comes.
    pub spread: Spread,
}

/// What the textbook's plans come to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TextbookMeans {
    /// Turns.
    pub turns: OneMean,
    /// Machine time in quarter turns.
    pub cost: OneMean,
}

/// How good plans are after so many nodes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CurveRow {
    /// Nodes.
    pub nodes: u64,
    /// Mean of what is sought to be least: turns, or quarter turns of machine time.
    pub objective: f64,
    /// Time for these nodes; null where no host's speed is known.
    pub search_ms: Option<f64>,
    /// What they save less what they take; null without a drive.
    pub gain_ms: Option<f64>,
}

/// Times of the search here; with `--timings` alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SearchMs {
    /// Mean over the states.
    pub mean: f64,
    /// Mean until the first plan.
    pub first_plan: f64,
}

/// Plans of many states.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlansRecord {
    /// How many random states.
    pub states: u64,
    /// Plans that solve theirs, by turning a cube.
    pub solved: usize,
    /// Plans that are proved to be best.
    pub proved: usize,
    /// Which of the planner's tables served.
    pub tables: String,
    /// Turns.
    pub turns: TurnSpread,
    /// Beats.
    pub beats: TurnSpread,
    /// Machine time in quarter turns.
    pub cost: MeanMax,
    /// Predicted time on the scene's drive; null without a scene.
    pub predicted_ms: Option<MeanMax>,
    /// The textbook's plans.
    pub textbook: TextbookMeans,
    /// Mean cost over the textbook's.
    pub cost_ratio: f64,
    /// Mean of nodes that searches took.
    pub nodes: f64,
    /// How plans get better with nodes, at the speed of the scene's host; with `--timings` at the speed
    /// measured here.
    pub curve: Vec<CurveRow>,
    /// Nodes a second here; with `--timings` alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nodes_per_s: Option<f64>,
    /// Times of the search here; with `--timings` alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub search_ms: Option<SearchMs>,
}

/// A plan, or plans of many states.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum PlanDocument {
    /// Of one state.
    One(PlanRecord),
    /// Of many.
    Many(PlansRecord),
}

/// The first execution that failed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FirstFailure {
    /// Its number.
    pub execution: u64,
    /// Why, in words.
    pub because: String,
}

/// What following a file of turns comes to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FollowDocument {
    /// The file that was followed.
    pub file: String,
    /// The scene's file.
    pub scene: String,
    /// Seed of everything that is drawn.
    pub seed: u64,
    /// Fields that were changed before.
    pub settings: Vec<GivenSetting>,
    /// What was turned, in WCA notation.
    pub plan: String,
    /// The file's ceiling: share of the torque above friction.
    pub ceiling_share: f64,
    /// Whether the file was exported as safe.
    pub safe: bool,
    /// Whether turns begin before others end.
    pub overlaps: bool,
    /// How they ended.
    #[serde(flatten)]
    pub counts: FollowedCounts,
    /// At most this share fails, at 95 % confidence.
    pub fail_at_most_share: f64,
    /// Median time; null where none completes.
    pub median_ms: Option<f64>,
    /// 95 % are quicker; likewise.
    pub p95_ms: Option<f64>,
    /// Largest torque in any shaft; null where a simulated motion grew beyond all numbers.
    pub peak_torque_n_m: Option<f64>,
    /// Strength over torque, least of all shafts; null where nothing turned.
    pub safety_factor: Option<f64>,
    /// The first failure; null where there is none.
    pub first_failure: Option<FirstFailure>,
}
