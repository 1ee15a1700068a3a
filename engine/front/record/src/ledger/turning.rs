//! The line of many executions on the axes alone.

use dryturn_handoff::Plan;
use dryturn_studies::{AxisBlame, BlameRow, Execution, ReasonCount, TurningDrill, scene_sha256};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::shares::{KindCount, Share};
use crate::finite;

/// Most failed trials that a drill's line names.
const NAMED: usize = 100;

/// A quantile of times with its interval.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct QuantileMs {
    /// The quantile.
    pub ms: f64,
    /// Lower end of its 95 % bootstrap interval, ms.
    pub bootstrap_95_low: f64,
    /// Upper end, ms.
    pub bootstrap_95_high: f64,
}

impl QuantileMs {
    fn of(drill: &TurningDrill, share: f64) -> Option<Self> {
        let (value_s, (low_s, high_s)) = drill.time_s(share)?;
        Some(Self {
            ms: value_s * 1e3,
            bootstrap_95_low: low_s * 1e3,
            bootstrap_95_high: high_s * 1e3,
        })
    }
}

/// Times of the executions that turned every beat; null where there is none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TurningTimes {
    /// 5 % are quicker.
    pub p05: Option<QuantileMs>,
    /// Half of them are.
    pub median: Option<QuantileMs>,
    /// 95 % are.
    pub p95: Option<QuantileMs>,
    /// The longest, ms.
    pub longest: Option<f64>,
}

/// Strength of the weakest shaft over its largest torque, over all executions; null without
/// executions, and where nothing was turned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SafetyFactors {
    /// The least.
    pub least: Option<f64>,
    /// 1 % are less.
    pub p01: Option<f64>,
    /// 5 % are.
    pub p05: Option<f64>,
    /// Half of them are.
    pub median: Option<f64>,
}

/// A drill of the axes alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TurningLine {
    /// Name of the scene.
    pub scene: String,
    /// SHA-256 of the scene as used.
    pub scene_sha256: String,
    /// How many executions.
    pub trials: usize,
    /// What was turned: trial n turns plan n modulo their number. In WCA notation.
    pub plans: Vec<String>,
    /// Those that turned every beat.
    pub completed: Share,
    /// Those that did not, whatever the cause.
    pub failures: Share,
    /// Exact one-sided 95 % upper bound of the share of failures.
    pub failures_exact_95_upper: f64,
    /// Failures by kind, where there are any.
    pub kinds: Vec<KindCount>,
    /// What they failed by.
    pub reasons: Vec<ReasonCount>,
    /// Those that jammed.
    pub jammed: Share,
    /// Exact one-sided 95 % upper bound of the share of jams.
    pub jams_exact_95_upper: f64,
    /// Those that something else stopped.
    pub stopped: Share,
    /// Those in which a face was brought to a stand and got through.
    pub pushed: Share,
    /// No execution can be faster, mean over the plans.
    pub bound_ms: f64,
    /// Times of those that turned every beat.
    pub time_ms: TurningTimes,
    /// How near shafts came to breaking.
    pub safety_factor: SafetyFactors,
    /// Largest torque in any shaft; null without executions.
    pub peak_torque_n_m: Option<f64>,
    /// Lowest bus voltage; likewise, and so on.
    pub lowest_v: Option<f64>,
    /// Highest bus voltage.
    pub highest_v: Option<f64>,
    /// Warmest winding, °C.
    pub winding_c: Option<f64>,
    /// Brake resistor at its hottest, °C.
    pub resistor_c: Option<f64>,
    /// Who blocked whom, the most frequent first.
    pub blame: Vec<BlameRow>,
    /// By axis, faces in the order U R F D L B.
    pub axes: Vec<AxisBlame>,
    /// Numbers of the first 100 executions that failed.
    pub failed: Vec<u64>,
}

impl TurningLine {
    /// Of a drill of the axes.
    #[must_use]
    pub fn of(drill: &TurningDrill) -> Self {
        let share = |count: usize| Share::of(count, drill.trials());
        let safety = |share: f64| drill.quantile(share, |e| e.safety_factor_ratio).and_then(finite);
        let most = |of: fn(&Execution) -> f64| drill.quantile(1.0, of).and_then(finite);
        let failures = drill.failures();
        let failed = drill.executions.iter().filter(|execution| !execution.completed());
        Self {
            scene: drill.scene.file().name.clone(),
            scene_sha256: scene_sha256(&drill.scene),
            trials: drill.trials(),
            plans: drill.plans.iter().map(Plan::notation).collect(),
            completed: share(drill.completed()),
            failures: share(failures.count()),
            failures_exact_95_upper: failures.at_most(),
            kinds: KindCount::all(&failures),
            reasons: drill.reasons(),
            jammed: share(drill.jams()),
            jams_exact_95_upper: drill.jams_at_most(),
            stopped: share(drill.stops()),
            pushed: share(drill.pushed()),
            bound_ms: drill.mean_bound_s() * 1e3,
            time_ms: TurningTimes {
                p05: QuantileMs::of(drill, 0.05),
                median: QuantileMs::of(drill, 0.5),
                p95: QuantileMs::of(drill, 0.95),
                longest: drill.times_s().last().map(|s| s * 1e3),
            },
            safety_factor: SafetyFactors {
                least: safety(0.0),
                p01: safety(0.01),
                p05: safety(0.05),
                median: safety(0.5),
            },
            peak_torque_n_m: most(|e| e.peak_torque_n_m),
            lowest_v: drill.quantile(0.0, |e| e.bus_v.0).and_then(finite),
            highest_v: most(|e| e.bus_v.1),
            winding_c: most(|e| e.winding_c),
            resistor_c: most(|e| e.resistor_c),
            blame: drill.blame(),
            axes: drill.axes().to_vec(),
            failed: failed.take(NAMED).map(|execution| execution.number).collect(),
        }
    }
}
