//! What tuning has found: settings, their proof, and what keeps them from being faster.

use dryturn_driving::Lead;
use dryturn_studies::{BelowZero, Bought, Nudge, Setting, TuneLimit, Tuned, lead_sentence};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::shares::KindCount;
use super::turning::TurningLine;
use crate::finite;

/// A setting before and after.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SettingRecord {
    /// The setting.
    #[serde(flatten)]
    pub setting: Setting,
    /// What the change does to the rig.
    pub says: String,
}

impl SettingRecord {
    fn of(setting: &Setting) -> Self {
        Self { setting: setting.clone(), says: setting.says() }
    }
}

/// A setting moved a little to one side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NudgeRecord {
    /// The value it then has.
    pub value: String,
    /// How much faster executions then are, mean; negative: slower; null where none completes.
    pub faster_ms: Option<f64>,
    /// Executions that then fail.
    pub failures: usize,
    /// Those by kind.
    pub kinds: Vec<KindCount>,
}

impl NudgeRecord {
    fn of(nudge: &Nudge) -> Self {
        Self {
            value: nudge.value.clone(),
            faster_ms: nudge.faster_s.map(|s| s * 1e3),
            failures: nudge.failures.count(),
            kinds: KindCount::all(&nudge.failures),
        }
    }
}

/// What became of moving one setting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TuneLimitRecord {
    /// The field.
    pub field: String,
    /// Its value as found.
    pub value: String,
    /// Executions at the found settings.
    pub trials: usize,
    /// How many of them failed.
    pub failures: usize,
    /// Towards less; null at an end of the range.
    pub less: Option<NudgeRecord>,
    /// Towards more; likewise.
    pub more: Option<NudgeRecord>,
    /// How it keeps executions from being faster; null where it does not.
    pub says: Option<String>,
}

impl TuneLimitRecord {
    fn of(limit: &TuneLimit) -> Self {
        let [less, more] = limit.nudges.each_ref().map(|n| n.as_ref().map(NudgeRecord::of));
        Self {
            field: limit.field.clone(),
            value: limit.value.clone(),
            trials: limit.failures.trials(),
            failures: limit.failures.count(),
            less,
            more,
            says: limit.sentence(),
        }
    }
}

/// How much of a turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HowFar {
    /// 90°.
    Quarter,
    /// 180°.
    Half,
}

impl HowFar {
    fn of(half: bool) -> Self {
        if half { Self::Half } else { Self::Quarter }
    }
}

/// How early a face begins after another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LeadRecord {
    /// The turn that is not done yet.
    pub late: HowFar,
    /// The turn that begins.
    pub next: HowFar,
    /// Whether both turn clockwise, or both counter-clockwise.
    pub same_sense: bool,
    /// How long before the late turn's set-point stops the other may begin.
    pub lead_ms: f64,
    /// How far the late turn's set-point is from its stop then.
    pub to_go_deg: f64,
    /// How near the pieces of both faces come; negative where they overlap.
    pub nearest_mm: f64,
    /// How far the late face then is from its stop.
    pub nearest_late_deg: f64,
    /// How far the next one then has turned.
    pub nearest_turned_deg: f64,
    /// The same in words.
    pub says: String,
}

impl LeadRecord {
    /// Of a lead.
    #[must_use]
    pub fn of(lead: &Lead) -> Self {
        Self {
            late: HowFar::of(lead.late_half),
            next: HowFar::of(lead.next_half),
            same_sense: lead.same_sense,
            lead_ms: lead.lead_s * 1e3,
            to_go_deg: lead.to_go_deg,
            nearest_mm: lead.nearest_mm,
            nearest_late_deg: lead.nearest_late_deg,
            nearest_turned_deg: lead.nearest_turned_deg,
            says: lead_sentence(lead),
        }
    }
}

/// The best margin below zero.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoughtRecord {
    /// The margin.
    pub margin_deg: f64,
    /// By how much executions are faster, mean.
    pub saves_ms: f64,
    /// Lower end of its 95 % interval.
    pub saves_95_low_ms: f64,
    /// Upper end.
    pub saves_95_high_ms: f64,
    /// Executions that fail.
    pub failures: usize,
    /// Executions that fail with the found margin.
    pub failures_as_found: usize,
    /// Executions on either side.
    pub trials: usize,
    /// How deep pieces of neighbours overlap at the most.
    pub overlap_mm: f64,
}

impl BoughtRecord {
    fn of(bought: &Bought) -> Self {
        Self {
            margin_deg: bought.margin_deg,
            saves_ms: bought.saves_s * 1e3,
            saves_95_low_ms: bought.interval_s.0 * 1e3,
            saves_95_high_ms: bought.interval_s.1 * 1e3,
            failures: bought.failures.0,
            failures_as_found: bought.failures.1,
            trials: bought.trials,
            overlap_mm: bought.overlap_mm,
        }
    }
}

/// What a clearance margin below zero would buy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BelowZeroRecord {
    /// The margins that were tried.
    pub tried_deg: Vec<f64>,
    /// Executions that the question took.
    pub executions: usize,
    /// The fastest that keeps the target; null where none is faster and does.
    pub best: Option<BoughtRecord>,
    /// The same in words.
    pub says: String,
}

impl BelowZeroRecord {
    fn of(asked: &BelowZero) -> Self {
        Self {
            tried_deg: asked.tried_deg.clone(),
            executions: asked.executions,
            best: asked.best.as_ref().map(BoughtRecord::of),
            says: asked.sentence(),
        }
    }
}

/// Settings that keep the target.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FoundRecord {
    /// What has changed.
    pub settings: Vec<SettingRecord>,
    /// Lower end of Wilson's 95 % interval of the share that fails.
    pub failure_wilson_95_low: f64,
    /// Upper end.
    pub failure_wilson_95_high: f64,
    /// Strength of the weakest shaft over the torque limit.
    pub static_safety_factor: f64,
    /// From the start button to the last stop, median; null where nothing completes.
    pub start_to_stop_ms: Option<f64>,
    /// Share of the way from the plainest timing to the bound that they go.
    pub gap_closed_share: Option<f64>,
    /// Each setting moved a little.
    pub limits: Vec<TuneLimitRecord>,
    /// What keeps them from being faster, what binds first in front.
    pub next_limits: Vec<String>,
    /// How early faces begin after one another; null where the policy does not go by it.
    pub leads: Option<Vec<LeadRecord>>,
    /// What the margin makes of the pieces of neighbours; likewise.
    pub clearance: Option<String>,
    /// What a margin below zero would buy; null where that was not asked.
    pub below_zero: Option<BelowZeroRecord>,
    /// Settings that were tried before the proof.
    pub tried: usize,
    /// Their proof on fresh trials and cubes.
    pub drill: TurningLine,
    /// The scene as it was, on the same trials.
    pub before: TurningLine,
    /// The tuned limits with the plainest timing, on the same trials.
    pub waiting: TurningLine,
}

impl FoundRecord {
    pub(super) fn of(tuned: &Tuned) -> Self {
        let (failure_wilson_95_low, failure_wilson_95_high) = tuned.failure_interval();
        Self {
            settings: tuned.settings.iter().map(SettingRecord::of).collect(),
            failure_wilson_95_low,
            failure_wilson_95_high,
            static_safety_factor: tuned.static_safety_ratio(),
            start_to_stop_ms: tuned.start_to_stop_s().map(|s| s * 1e3),
            gap_closed_share: tuned.gap_closed().and_then(finite),
            limits: tuned.limits.iter().map(TuneLimitRecord::of).collect(),
            next_limits: tuned.what_limits(),
            leads: tuned.leads().map(|leads| leads.iter().map(LeadRecord::of).collect()),
            clearance: tuned.clearance_sentence(),
            below_zero: tuned.below_zero.as_ref().map(BelowZeroRecord::of),
            tried: tuned.tried,
            drill: TurningLine::of(&tuned.drill),
            before: TurningLine::of(&tuned.before),
            waiting: TurningLine::of(&tuned.waiting),
        }
    }
}
