//! The line about a logged run, laid over the simulated one.

use dryturn_cube::Turn;
use dryturn_studies::overlay::{BeatOff, HeldUp, Overlay, SingleCause};
use dryturn_studies::scene_sha256;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::explained::{JointRecord, OutcomeWord, ToldRecord, WordsRecord};
use crate::finite;

/// How far one beat of a log is off the simulated run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BeatOffRecord {
    /// Its number, from 1.
    pub beat: usize,
    /// Its turns in WCA notation.
    pub turns: String,
    /// How much later than simulated its first turn is 10 % done; null where the simulated run does
    /// not come so far.
    pub late_ms: Option<f64>,
    /// How much longer than simulated its longest turn takes from 10 to 90 %; likewise.
    pub longer_ms: Option<f64>,
    /// Root mean square difference of its faces' angles while it runs; likewise.
    pub rms_deg: Option<f64>,
}

impl BeatOffRecord {
    /// By beat.
    #[must_use]
    pub fn all(beats: &[BeatOff]) -> Vec<Self> {
        let one = |own: &BeatOff| Self {
            beat: own.beat + 1,
            turns: own.turns.clone(),
            late_ms: finite(own.late_ms),
            longer_ms: finite(own.longer_ms),
            rms_deg: finite(own.rms_deg),
        };
        beats.iter().map(one).collect()
    }
}

/// A stretch of one turn that no single figure explains.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HeldUpRecord {
    /// Its beat, from 1.
    pub beat: usize,
    /// The turn.
    pub turn: Turn,
    /// Which part of it.
    pub what: String,
    /// How much longer it took than the best figure explains.
    pub longer_ms: f64,
}

impl HeldUpRecord {
    fn of(own: &HeldUp) -> Self {
        Self {
            beat: own.beat + 1,
            turn: own.turn,
            what: own.stretch.words().to_owned(),
            longer_ms: own.longer_ms,
        }
    }
}

/// One figure by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CauseRecord {
    /// Path of the field in the scene.
    pub field: String,
    /// In words.
    pub what: String,
    /// As drawn.
    pub drawn: f64,
    /// As it explains most.
    pub value: f64,
    /// Share of what the log is off that it explains.
    pub explained_share: f64,
    /// Root mean square of what is left then.
    pub rms_ms: f64,
    /// Whether it cannot be told from the best one.
    pub as_good: bool,
}

impl CauseRecord {
    /// What might be to blame for what a log is off, the most likely first.
    #[must_use]
    pub fn all(overlay: &Overlay) -> Vec<Self> {
        let one = |own: &SingleCause| Self {
            field: own.field.to_owned(),
            what: own.words.to_owned(),
            drawn: own.drawn,
            value: own.value,
            explained_share: own.explained_share,
            rms_ms: own.rms_ms,
            as_good: own.as_good,
        };
        overlay.causes.iter().map(one).collect()
    }
}

/// A log laid over the simulated run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OverlayLine {
    /// Name of the scene.
    pub scene: String,
    /// SHA-256 of the scene as used.
    pub scene_sha256: String,
    /// What was turned, in WCA notation.
    pub turns: String,
    /// Whether the log ends before the plan does.
    pub ends_early: bool,
    /// Root mean square of what turns are late or longer.
    pub rms_ms: f64,
    /// Whether something explains it.
    pub explained: bool,
    /// Stretches that no single figure explains.
    pub held_up: Vec<HeldUpRecord>,
    /// By beat.
    pub beats: Vec<BeatOffRecord>,
    /// The same with the likeliest set of figures; null where there is none.
    pub beats_after: Option<Vec<BeatOffRecord>>,
    /// Each figure by itself, the most likely first.
    pub causes: Vec<CauseRecord>,
    /// What comes of fitting sets of figures.
    pub outcome: OutcomeWord,
    /// The sets that explain it equally well, the likeliest first.
    pub told: Vec<ToldRecord>,
    /// The same in few lines, in words; null where nothing was fitted.
    pub words: Option<WordsRecord>,
    /// All figures fitted together; likewise.
    pub joint: Option<JointRecord>,
}

impl OverlayLine {
    /// Of a log laid over a run.
    #[must_use]
    pub fn of(overlay: &Overlay) -> Self {
        Self {
            scene: overlay.scene.file().name.clone(),
            scene_sha256: scene_sha256(&overlay.scene),
            turns: overlay.plan.notation(),
            ends_early: overlay.ends_early,
            rms_ms: overlay.rms_ms,
            explained: overlay.explained(),
            held_up: overlay.held_up.iter().map(HeldUpRecord::of).collect(),
            beats: BeatOffRecord::all(&overlay.beats),
            beats_after: overlay.fitted.as_ref().map(|fitted| BeatOffRecord::all(&fitted.beats)),
            causes: CauseRecord::all(overlay),
            outcome: OutcomeWord::of(overlay),
            told: ToldRecord::all(overlay),
            words: overlay.sets.as_ref().map(WordsRecord::of),
            joint: JointRecord::of(overlay),
        }
    }
}
