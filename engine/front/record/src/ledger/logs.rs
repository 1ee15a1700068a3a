//! The lines about logs of real axes.

use std::collections::BTreeMap;

use dryturn_cube::Turn;
use dryturn_metrology::motor::{
    DriveField, Estimate, HeldOut, Identified, Limit, MoveSeen, SlowFit,
};
use dryturn_studies::overlay::{
    BeatOff, Cause, Explained, Fitted, HeldUp, Outcome, Overlay, Problem, Told,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{digest, finite};

/// A number and how surely it is known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EstimateRecord {
    /// Its value; where it is not determined, what the fit used.
    pub value: f64,
    /// Its standard error; null where the drawn value was used.
    pub error: Option<f64>,
    /// Its 95 % interval; likewise.
    pub interval_95: Option<[f64; 2]>,
    /// Whether the logs determine it.
    pub determined: bool,
    /// Why they do not; null where they do.
    pub because: Option<String>,
}

impl EstimateRecord {
    fn of(own: &Estimate) -> Self {
        Self {
            value: own.value,
            error: own.error,
            interval_95: own.interval,
            determined: own.open.is_none(),
            because: own.open.clone(),
        }
    }
}

/// A limit of the drive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LimitRecord {
    /// The limit; null where the logs do not reach it.
    pub value: Option<f64>,
    /// Largest value in the logs.
    pub largest: f64,
    /// How that was seen, or why not.
    pub because: String,
}

impl LimitRecord {
    fn of(own: &Limit) -> Self {
        Self { value: own.reached, largest: own.largest, because: own.because.clone() }
    }
}

/// Friction at the mean speed of all rows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FrictionAt {
    /// That speed.
    pub speed_rad_s: f64,
    /// Friction, Coulomb and viscous together, N·m; rad/s² without currents.
    pub value: f64,
}

/// One move of the logs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MoveRecord {
    /// Number of its log, from 1.
    pub log: usize,
    /// When it starts in it.
    pub start_s: f64,
    /// How far it goes.
    pub way_deg: f64,
    /// Its highest speed.
    pub top_speed_rad_s: f64,
    /// Friction at that speed by this move alone; null where it does not tell.
    pub friction: Option<f64>,
}

impl MoveRecord {
    fn of(own: &MoveSeen) -> Self {
        let MoveSeen { log, start_s, way_deg, top_speed_rad_s, friction } = *own;
        Self { log, start_s, way_deg, top_speed_rad_s, friction }
    }
}

/// How well the move that was kept out is predicted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HeldOutRecord {
    /// Its number, from 1.
    pub number: usize,
    /// Root mean square error of the torque, over the torque's own.
    pub torque_off_share: f64,
    /// Root mean square error of the computed angle, over the move's angle.
    pub angle_off_share: f64,
    /// Where the computed motion ends, off the measured end.
    pub end_off_deg: f64,
    /// Whether torque, angle and end are near enough.
    pub accepted: bool,
}

impl HeldOutRecord {
    fn of(own: &HeldOut) -> Self {
        Self {
            number: own.number,
            torque_off_share: own.torque_off_share,
            angle_off_share: own.angle_off_share,
            end_off_deg: own.end_off_deg,
            accepted: own.accepted(),
        }
    }
}

/// A field of the scene's drive that follows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DriveFieldRecord {
    /// Its name.
    pub field: String,
    /// As the scene has it.
    pub drawn: f64,
    /// As measured.
    pub measured: f64,
}

impl DriveFieldRecord {
    fn of(own: &DriveField) -> Self {
        Self { field: own.name.to_owned(), drawn: own.drawn, measured: own.measured }
    }
}

/// How slow logs were fitted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SlowRecord {
    /// How far samples are apart.
    pub step_ms: f64,
    /// What the simulated angles are off, root mean square.
    pub angle_off_deg: f64,
    /// What the simulated currents are off; null of coasts, which have none.
    pub current_off_a: Option<f64>,
}

impl SlowRecord {
    fn of(own: &SlowFit) -> Self {
        let SlowFit { step_ms, angle_off_deg, current_off_a } = *own;
        Self { step_ms, angle_off_deg, current_off_a }
    }
}

/// What logs of one axis tell of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct IdentifyLine {
    /// Whether there were no currents: numbers are over the inertia.
    pub over_inertia: bool,
    /// The drawn torque constant that torques stand on.
    pub constant_n_m_per_a: f64,
    /// By name with unit.
    pub estimates: BTreeMap<String, EstimateRecord>,
    /// By name with unit.
    pub limits: BTreeMap<String, LimitRecord>,
    /// Friction, sure also where its parts cannot be told apart.
    pub friction_at: FrictionAt,
    /// Largest over smallest singular value of the fit's scaled columns.
    pub condition_ratio: Option<f64>,
    /// Samples in the fit.
    pub rows: usize,
    /// What the fit leaves of the torque, root mean square, over its own.
    pub misfit_share: f64,
    /// Corner of the low-pass; 0 for slow logs, which are not filtered.
    pub corner_hz: f64,
    /// The moves.
    pub moves: Vec<MoveRecord>,
    /// How well the move that was kept out is predicted.
    pub held_out: HeldOutRecord,
    /// Fields of the scene's drive that follow.
    pub fields: Vec<DriveFieldRecord>,
    /// What a person should know.
    pub warnings: Vec<String>,
    /// How slow logs were fitted; null where samples are at most 1 ms apart.
    pub slow: Option<SlowRecord>,
}

impl IdentifyLine {
    /// Of what logs tell.
    #[must_use]
    pub fn of(found: &Identified) -> Self {
        let over = found.over_inertia;
        let estimate =
            |own: &Estimate| (own.parameter.key(over).to_owned(), EstimateRecord::of(own));
        let limit = |own: &Limit| (own.kind.key().to_owned(), LimitRecord::of(own));
        let [speed_rad_s, value] = found.friction_at;
        Self {
            over_inertia: over,
            constant_n_m_per_a: found.constant_n_m_per_a,
            estimates: found.estimates.iter().map(estimate).collect(),
            limits: found.limits.iter().map(limit).collect(),
            friction_at: FrictionAt { speed_rad_s, value },
            condition_ratio: finite(found.condition_ratio),
            rows: found.rows,
            misfit_share: found.misfit_share,
            corner_hz: found.corner_hz,
            moves: found.moves.iter().map(MoveRecord::of).collect(),
            held_out: HeldOutRecord::of(&found.held_out),
            fields: found.fields.iter().map(DriveFieldRecord::of).collect(),
            warnings: found.warnings.clone(),
            slow: found.slow.as_ref().map(SlowRecord::of),
        }
    }
}

/// How far one beat of a log is off the simulated run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BeatOffRecord {
    /// Its number, from 1.
    pub beat: usize,
    /// Its turns in WCA notation.
    pub turns: String,
    /// How much later than simulated its first turn is 10 % done.
    pub late_ms: f64,
    /// How much longer than simulated its longest turn takes from 10 to 90 %.
    pub longer_ms: f64,
    /// Root mean square difference of its faces' angles while it runs.
    pub rms_deg: f64,
}

impl BeatOffRecord {
    /// By beat.
    #[must_use]
    pub fn all(beats: &[BeatOff]) -> Vec<Self> {
        let one = |own: &BeatOff| Self {
            beat: own.beat + 1,
            turns: own.turns.clone(),
            late_ms: own.late_ms,
            longer_ms: own.longer_ms,
            rms_deg: own.rms_deg,
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
