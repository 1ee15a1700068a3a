//! The lines of many rehearsals, many executions and many readings.

use dryturn_cube::{Face, net};
use dryturn_handoff::Plan;
use dryturn_rehearsal::Verdict;
use dryturn_scene::file::Method;
use dryturn_statistics::{Z_95, wilson};
use dryturn_studies::{
    AxisBlame, Blame, Drill, Execution, FailureKind, Failures, ReaderTable, ReaderTally, Reason,
    Trial, TurningDrill,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::axes::{JamRecord, StopRecord};
use super::scans::MistakeRecord;
use crate::{digest, finite};

/// Most failed trials that a drill's line names.
const NAMED: usize = 100;

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

/// One trial of a drill.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrialLine {
    /// Its number, which names its draws.
    pub trial: u64,
    /// How it ended.
    pub verdict: Verdict,
    /// Whether the true cube was read.
    pub read_right: bool,
    /// Why nothing was read; null where something was.
    pub because: Option<String>,
    /// Facelets that came out wrong.
    pub mistakes: Vec<MistakeRecord>,
    /// Turns of the plan; null without one.
    pub turns: Option<usize>,
    /// Beats of the plan; null without one.
    pub beats: Option<usize>,
    /// Whether the plan solves what was read; null without one.
    pub plan_solves_reading: Option<bool>,
    /// Time of the execution; null without one.
    pub total_ms: Option<f64>,
    /// The jam that ended it.
    pub jam: Option<JamRecord>,
    /// What else ended it.
    pub stop: Option<StopRecord>,
    /// The true cube: six named faces of three rows.
    pub truth: String,
}

impl TrialLine {
    /// Of a trial.
    #[must_use]
    pub fn of(trial: &Trial) -> Self {
        Self {
            trial: trial.number,
            verdict: trial.verdict,
            read_right: trial.score.right(),
            because: trial.because.clone(),
            mistakes: MistakeRecord::all(&trial.score),
            turns: trial.plan_size.map(|size| size.0),
            beats: trial.plan_size.map(|size| size.1),
            plan_solves_reading: trial.plan_solves_reading,
            total_ms: trial.total_s.map(|s| s * 1e3),
            jam: trial.jam.as_ref().map(JamRecord::of),
            stop: trial.stop.as_ref().map(StopRecord::of),
            truth: net::write_faces(&trial.truth.colours()),
        }
    }
}

/// Times of the runs that turned every beat, ms; null where there is none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrillTimes {
    /// 5 % are quicker.
    pub p05: Option<f64>,
    /// Half of them are.
    pub median: Option<f64>,
    /// 95 % are.
    pub p95: Option<f64>,
    /// The longest.
    pub longest: Option<f64>,
}

/// What a drill adds up to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrillLine {
    /// Name of the scene.
    pub scene: String,
    /// Name of the scene in whose light the reader was calibrated.
    pub calibrated_in: String,
    /// How many trials.
    pub trials: usize,
    /// Those whose cube was read right.
    pub read_right: Share,
    /// Those that ended solved.
    pub solved: Share,
    /// Those whose pictures made no cube.
    pub unreadable: Share,
    /// Those that jammed.
    pub jammed: Share,
    /// Those that something else stopped.
    pub stopped: Share,
    /// Those whose cube was read wrong.
    pub misread: Share,
    /// Those whose turns ended elsewhere than planned.
    pub lost: Share,
    /// Why runs were broken off, by kind.
    pub kinds: Vec<KindCount>,
    /// How many plans there were.
    pub plans: usize,
    /// How many of them solve what was read.
    pub plans_that_solve: usize,
    /// Times of the runs that turned every beat.
    pub time_ms: DrillTimes,
    /// Seen facelets by true colour (row) and colour read (column), faces U R F D L B.
    pub confusion_true_by_read: [[usize; 6]; 6],
}

impl DrillLine {
    /// Of a drill.
    #[must_use]
    pub fn of(drill: &Drill) -> Self {
        let trials = drill.trials.len();
        let share = |count: usize| Share::of(count, trials);
        let ended = |verdict: Verdict| share(drill.ended(verdict));
        Self {
            scene: drill.scene.file().name.clone(),
            calibrated_in: drill.calibrated_in.file().name.clone(),
            trials,
            read_right: share(drill.right_reads()),
            solved: ended(Verdict::Solved),
            unreadable: ended(Verdict::Unreadable),
            jammed: ended(Verdict::Jammed),
            stopped: ended(Verdict::Stopped),
            misread: ended(Verdict::Misread),
            lost: ended(Verdict::Lost),
            kinds: KindCount::all(&drill.failures()),
            plans: drill.count(|t| t.plan_solves_reading.is_some()),
            plans_that_solve: drill.count(|t| t.plan_solves_reading == Some(true)),
            time_ms: DrillTimes {
                p05: drill.time_ms(0.05),
                median: drill.time_ms(0.5),
                p95: drill.time_ms(0.95),
                longest: drill.time_ms(1.0),
            },
            confusion_true_by_read: drill.confusion(),
        }
    }
}

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

/// Strength of the weakest shaft over its largest torque, over all executions.
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

/// What executions failed by.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReasonCount {
    /// The kind of failure.
    pub kind: FailureKind,
    /// What happened, in words.
    pub says: String,
    /// In how many executions.
    pub count: usize,
}

impl ReasonCount {
    fn of(reason: &Reason) -> Self {
        Self { kind: reason.kind, says: reason.words.clone(), count: reason.count }
    }
}

/// Who blocked whom.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BlameRow {
    /// The late face.
    pub late: Face,
    /// The face that was blocked.
    pub blocked: Face,
    /// Whether it turned against the late face's error, so that corners met.
    pub against: bool,
    /// Jams.
    pub jams: usize,
    /// Faces brought to a stand that got through.
    pub pushed: usize,
    /// How far the late face was off, mean.
    pub late_deg: f64,
}

impl BlameRow {
    /// Of one row.
    #[must_use]
    pub fn of(row: &Blame) -> Self {
        let Blame { late, blocked, against, jams, pushed, late_deg } = *row;
        Self { late, blocked, against, jams, pushed, late_deg }
    }
}

/// What one axis had to do with the ends of executions.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AxisRecord {
    /// Its face.
    pub face: Face,
    /// Jams in which that face was late.
    pub late: usize,
    /// Jams in which it was blocked.
    pub blocked: usize,
    /// Executions that it stopped otherwise.
    pub stops: usize,
    /// Executions in which its shaft broke.
    pub broken: usize,
}

impl AxisRecord {
    fn of((face, axis): (Face, AxisBlame)) -> Self {
        let AxisBlame { late, blocked, stops, broken } = axis;
        Self { face, late, blocked, stops, broken }
    }
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
    /// Lowest bus voltage.
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
    pub axes: Vec<AxisRecord>,
    /// Numbers of the first 100 executions that failed.
    pub failed: Vec<u64>,
}

impl TurningLine {
    /// Of a drill of the axes.
    #[must_use]
    pub fn of(drill: &TurningDrill) -> Self {
        let share = |count: usize| Share::of(count, drill.trials());
        let safety = |share: f64| drill.quantile(share, |e| e.safety_factor_ratio).and_then(finite);
        let most = |of: fn(&Execution) -> f64| drill.quantile(1.0, of);
        let failures = drill.failures();
        let failed = drill.executions.iter().filter(|execution| !execution.completed());
        Self {
            scene: drill.scene.file().name.clone(),
            scene_sha256: digest(drill.scene.identity().as_bytes()),
            trials: drill.trials(),
            plans: drill.plans.iter().map(Plan::notation).collect(),
            completed: share(drill.completed()),
            failures: share(failures.count()),
            failures_exact_95_upper: failures.at_most(),
            kinds: KindCount::all(&failures),
            reasons: drill.reasons().iter().map(ReasonCount::of).collect(),
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
            lowest_v: drill.quantile(0.0, |e| e.bus_v.0),
            highest_v: most(|e| e.bus_v.1),
            winding_c: most(|e| e.winding_c),
            resistor_c: most(|e| e.resistor_c),
            blame: drill.blame().iter().map(BlameRow::of).collect(),
            axes: Face::ALL.into_iter().zip(drill.axes()).map(AxisRecord::of).collect(),
            failed: failed.take(NAMED).map(|execution| execution.number).collect(),
        }
    }
}

/// One way to read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReaderRow {
    /// The way, as `reader.method` names it.
    #[schemars(with = "String")]
    pub method: Method,
    /// Cubes read right.
    pub right: usize,
    /// Cubes read wrong.
    pub wrong: usize,
    /// Scans that it refused.
    pub refused: usize,
    /// Facelets that a camera saw.
    pub facelets: usize,
    /// How many of them got their own colour.
    pub facelets_right: usize,
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
            method: tally.method,
            right: tally.right,
            wrong: tally.wrong,
            refused: tally.refused,
            facelets: tally.facelets,
            facelets_right: tally.facelets_right,
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
        }
    }
}
