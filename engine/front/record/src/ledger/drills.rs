//! The lines of many rehearsals.

use dryturn_cube::net;
use dryturn_handoff::GuestFault;
use dryturn_rehearsal::{Guests, Mistake, Verdict};
use dryturn_studies::{Drill, SameLuck, Trial};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ends::{JamRecord, StopRecord};
use super::shares::{KindCount, Share};

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
    pub mistakes: Vec<Mistake>,
    /// Turns of the plan; null without one.
    pub turns: Option<usize>,
    /// Beats of the plan; null without one.
    pub beats: Option<usize>,
    /// Whether the plan solves what was read; null without one.
    pub plan_solves_reading: Option<bool>,
    /// Time of the execution; null without one.
    pub total_ms: Option<f64>,
    /// The jam that ended it; null where none did.
    pub jam: Option<JamRecord>,
    /// What else ended it; null where nothing did.
    pub stop: Option<StopRecord>,
    /// The true cube: six named faces of three rows.
    pub truth: String,
    /// The guest that could not go on; absent where none failed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest_fault: Option<GuestFault>,
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
            mistakes: trial.score.mistakes.clone(),
            turns: trial.plan_size.map(|size| size.0),
            beats: trial.plan_size.map(|size| size.1),
            plan_solves_reading: trial.plan_solves_reading,
            total_ms: trial.total_s.map(|s| s * 1e3),
            jam: trial.jam.as_ref().map(JamRecord::of),
            stop: trial.stop.as_ref().map(StopRecord::of),
            truth: net::write_faces(&trial.truth.colours()),
            guest_fault: trial.fault.clone(),
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

/// Trials by who solved them, guests or Dryturn's own stages, with the same luck.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SameLuckRecord {
    /// Who solved how many.
    #[serde(flatten)]
    pub luck: SameLuck,
    /// Those that the built-in stages read right.
    pub built_in_read_right: usize,
    /// How likely luck alone makes the two differ so much or more: sign test, 0 to 1.
    pub sign_test_p: f64,
}

impl SameLuckRecord {
    fn of(drill: &Drill) -> Option<Self> {
        let luck = drill.same_luck()?;
        let built_in_read_right = drill.built_in.as_ref()?.right_reads();
        let sign_test_p = luck.by_luck();
        Some(Self { luck, built_in_read_right, sign_test_p })
    }
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
    /// Those in which a guest could not go on; absent where there are none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest: Option<Share>,
    /// The guests that played; absent where none did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guests: Option<Guests>,
    /// The same trials by Dryturn's own stages, with the same luck; absent where no guest played.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub same_luck: Option<SameLuckRecord>,
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
            guest: Some(drill.ended(Verdict::Guest)).filter(|count| *count > 0).map(share),
            guests: drill.built_in.is_some().then(|| drill.guests.clone()),
            same_luck: SameLuckRecord::of(drill),
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
