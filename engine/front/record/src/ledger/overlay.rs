//! The line about a logged run, laid over the simulated one.

use dryturn_cube::Turn;
use dryturn_studies::overlay::{
    BeatOff, Cause, Explained, Fitted, HeldUp, Outcome, Overlay, Problem, Told,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{digest, finite};

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
        let one = |own: &Cause| Self {
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

/// A figure of the scene as fitted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FigureRecord {
    /// Path of the field in the scene.
    pub field: String,
    /// In words.
    pub what: String,
    /// As drawn.
    pub drawn: f64,
    /// As fitted.
    pub value: f64,
    /// Its 95 % interval.
    pub interval_95: [f64; 2],
    /// Whether the log determines it.
    pub determined: bool,
}

impl FigureRecord {
    fn of(own: &Fitted) -> Self {
        Self {
            field: own.field.to_owned(),
            what: own.words.to_owned(),
            drawn: own.drawn,
            value: own.value,
            interval_95: own.interval,
            determined: own.determined,
        }
    }
}

/// What comes of fitting sets of figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum OutcomeWord {
    /// Too few simulated rigs get through the plan.
    NotFitted,
    /// Rigs of this drawing differ as much by themselves.
    AsDrawn,
    /// One set explains it, every other is rejected at 99.9 %.
    Certain,
    /// Several sets do.
    Several,
    /// No set of one to three figures does.
    Unexplained,
}

impl OutcomeWord {
    /// Of a log laid over a run.
    #[must_use]
    pub fn of(overlay: &Overlay) -> Self {
        match overlay.sets.as_ref().map(|sets| sets.outcome) {
            None => Self::NotFitted,
            Some(Outcome::AsDrawn) => Self::AsDrawn,
            Some(Outcome::Certain) => Self::Certain,
            Some(Outcome::Several) => Self::Several,
            Some(Outcome::Unexplained) => Self::Unexplained,
        }
    }
}

/// A set of figures that explains a log.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ToldRecord {
    /// Its figures, fitted together.
    pub figures: Vec<FigureRecord>,
    /// By how much its chi-square is above that of all figures together.
    pub chi_square_above: f64,
    /// Correlations of its figures, row by row.
    pub correlations: Vec<Vec<f64>>,
}

impl ToldRecord {
    /// The sets that explain a log equally well, the likeliest first.
    #[must_use]
    pub fn all(overlay: &Overlay) -> Vec<Self> {
        let told = overlay.sets.as_ref().map_or(&[][..], |sets| &sets.told);
        let one = |own: &Told| Self {
            figures: own.figures.iter().map(FigureRecord::of).collect(),
            chi_square_above: own.above,
            correlations: square(&own.correlations),
        };
        told.iter().map(one).collect()
    }
}

/// A matrix, row by row.
fn square(values: &[f64]) -> Vec<Vec<f64>> {
    let size = values.len().isqrt().max(1);
    values.chunks(size).map(<[f64]>::to_vec).collect()
}

/// Two figures that a log hardly tells apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TiedRecord {
    /// Their paths in the scene.
    pub fields: [String; 2],
    /// How they are correlated in the fit.
    pub correlation: f64,
}

/// The fit of all figures near its solution, in coordinates that are 0 as drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProblemRecord {
    /// Where it was looked at.
    pub at: Vec<f64>,
    /// What is left there, each by itself normal with variance 1.
    pub left: Vec<f64>,
    /// How what is left changes with each coordinate.
    pub columns: Vec<Vec<f64>>,
    /// Weight of the prior.
    pub prior: f64,
}

impl ProblemRecord {
    fn of(own: &Problem) -> Self {
        let Problem { at, left, columns, prior } = own.clone();
        Self { at, left, columns, prior }
    }
}

/// All figures fitted together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JointRecord {
    /// The figures.
    pub figures: Vec<FigureRecord>,
    /// Their correlations, row by row.
    pub correlations: Vec<Vec<f64>>,
    /// Pairs that the log hardly tells apart.
    pub tied: Vec<TiedRecord>,
    /// Chi-square as drawn.
    pub chi_square_drawn: f64,
    /// Chi-square as fitted.
    pub chi_square: f64,
    /// That fit, for who wants to redo it.
    pub problem: ProblemRecord,
    /// Measures that were fitted.
    pub measures: usize,
    /// How many combinations of figures the log determines.
    pub combinations_determined: f64,
}

impl JointRecord {
    /// Of a log; `None` where nothing was fitted.
    #[must_use]
    pub fn of(overlay: &Overlay) -> Option<Self> {
        let sets = overlay.sets.as_ref()?;
        let tied = |(a, b, correlation): (&Fitted, &Fitted, f64)| TiedRecord {
            fields: [a.field.to_owned(), b.field.to_owned()],
            correlation,
        };
        Some(Self {
            figures: sets.figures.iter().map(FigureRecord::of).collect(),
            correlations: square(&sets.correlations),
            tied: sets.tied().into_iter().map(tied).collect(),
            chi_square_drawn: sets.chi_square[0],
            chi_square: sets.chi_square[1],
            problem: ProblemRecord::of(&sets.problem),
            measures: sets.measures,
            combinations_determined: sets.determined,
        })
    }
}

/// Sets of figures in few lines, in words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WordsRecord {
    /// What comes of it.
    pub verdict: String,
    /// The sets.
    pub lines: Vec<String>,
    /// What would tell them apart.
    pub to_tell_apart: Vec<String>,
}

impl WordsRecord {
    fn of(sets: &Explained) -> Self {
        Self {
            verdict: sets.verdict(),
            lines: sets.lines.iter().map(|line| sets.line_words(line)).collect(),
            to_tell_apart: sets.hints().into_iter().map(str::to_owned).collect(),
        }
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
            scene_sha256: digest(overlay.scene.identity().as_bytes()),
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
