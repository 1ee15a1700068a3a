//! A logged run of the real rig over the simulated run of the same plan: how far they
//! are apart, beat by beat, and which drawn figure would explain it.
//!
//! Both are laid together where the first turn is 10 % done. The simulated rig has no
//! errors. Angles are those of the motors' encoders on both sides. Times of 10, 50 and 90 % of
//! each turn are compared; each field of the scene that might be to blame is then fitted by
//! itself, and all sets of up to three of them jointly (`sets`): no single field is named where
//! a set explains as much.

mod boxes;
mod causes;
pub mod joint;
mod model;
mod refine;
mod rigs;
mod search;
mod set_words;
mod sets;
mod signature;
mod suspects;
mod times;
mod together;

use std::sync::Arc;

use dryturn_cube::Turn;
use dryturn_handoff::{End, Plan, Run, RunLog};
use dryturn_numerics::upper_median;
use dryturn_scene::Scene;
use serde_json::Value as Json;
use thiserror::Error;

pub use boxes::{FigurePlace, FigureSets};
pub use causes::SingleCause;
use causes::{Logged, simulated, trace_times};
pub use joint::Problem;
use model::Model;
pub use sets::{
    Explained, FittedFigure, HowExplained, MOST_FIGURES, NAMED_CORRELATION, Told, Weighed,
};
use times::{Course, features};
pub use times::{Stretch, TurnTimes};

/// Fewest turns that tell anything.
const FEWEST_TURNS: usize = 3;
/// Angles are compared from so long before a beat's turns to so long after, s.
const MARGIN_S: f64 = 0.005;
/// Residuals below this are none: what sampling leaves, ms.
const NOTHING_MS: f64 = 0.1;
/// Turns that are more times as slow or as fast as simulated are of another run.
const MOST_STRETCH_RATIO: f64 = 4.0;

/// Why a log cannot be laid over a run.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum OverlayError {
    /// Too little of the plan.
    #[error("the log holds {turns} whole turns of the plan: must be at least {FEWEST_TURNS}")]
    Turns {
        /// Whole turns.
        turns: usize,
    },
    /// Its times are of another unit, or of another run.
    #[error(
        "column time_s: the turns take {ratio:.3} times as long as simulated, in the median: must be \
         {least} to {most}; times are in seconds", least = 1.0 / MOST_STRETCH_RATIO,
         most = MOST_STRETCH_RATIO
    )]
    Stretched {
        /// Logged over simulated.
        ratio: f64,
    },
    /// The simulated rig itself does not get so far.
    #[error(
        "on the drawn rig without errors this plan ends after {simulated} of the log's {turns} turns \
         ({why}): nothing to compare with"
    )]
    Simulated {
        /// Turns that the simulated rig makes.
        simulated: usize,
        /// Whole turns in the log.
        turns: usize,
        /// What ended it.
        why: String,
    },
}

/// How far one beat is off.
#[derive(Clone, Debug, PartialEq)]
pub struct BeatOff {
    /// Index in the plan, from 0.
    pub beat: usize,
    /// Its turns in WCA notation.
    pub turns: String,
    /// How much later than simulated its first turn is 10 % done, ms.
    pub late_ms: f64,
    /// How much longer than simulated its longest turn takes from 10 to 90 %, ms.
    pub longer_ms: f64,
    /// Root mean square difference of its faces' angles while it runs, degrees.
    pub rms_deg: f64,
}

/// A stretch of one turn that no single figure explains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldUp {
    /// Index of its beat, from 0.
    pub beat: usize,
    /// The turn.
    pub turn: Turn,
    /// Which part of it.
    pub stretch: Stretch,
    /// How much longer it took than the best figure explains, ms.
    pub longer_ms: f64,
}

/// A log laid over a simulated run.
#[derive(Clone, Debug)]
pub struct Overlay {
    /// The drawn rig.
    pub scene: Arc<Scene>,
    /// What was turned.
    pub plan: Arc<Plan>,
    /// What was logged.
    pub log: Arc<RunLog>,
    /// What is added to the simulated times to be the log's, s.
    pub shift_s: f64,
    /// The drawn rig's run without errors.
    pub drawn: Run,
    /// The beats that are whole in both.
    pub beats: Vec<BeatOff>,
    /// Whether the log ends before the plan does.
    pub ends_early: bool,
    /// Root mean square of the residual times, ms, without what was held up.
    pub rms_ms: f64,
    /// Stretches that were held up by something of their own; they count for nothing.
    pub held_up: Vec<HeldUp>,
    /// Every field that might be to blame, the one that explains most first. None where the
    /// log agrees with the drawing.
    pub causes: Vec<SingleCause>,
    /// The run with the likeliest set at its values, what must be added to its times, and its
    /// beats; `None` where there is nothing to explain.
    pub fitted: Option<FittedRun>,
    /// Which sets of figures explain it, fitted jointly; `None` where too few simulated rigs
    /// get through the plan to tell what they differ.
    pub sets: Option<Explained>,
}

/// A run that explains a log.
#[derive(Clone, Debug)]
pub struct FittedRun {
    /// The fields that were changed, with their values: the likeliest set that is told, or the
    /// single figure that explains most.
    pub changes: Vec<(&'static str, f64)>,
    /// The run without errors.
    pub run: Run,
    /// What is added to its times to be the log's, s.
    pub shift_s: f64,
    /// How far its beats are off.
    pub beats: Vec<BeatOff>,
}

impl Overlay {
    /// Lays a log of a plan over the simulated run on a scene's rig.
    ///
    /// # Errors
    /// Too few turns, in the log or on the simulated rig.
    pub fn of(
        scene: &Arc<Scene>,
        plan: &Arc<Plan>,
        log: &Arc<RunLog>,
    ) -> Result<Self, OverlayError> {
        let course = Course { time_s: &log.time_s, angles_deg: &log.angles_deg };
        let times = course.times(plan);
        let turns = times.len();
        if turns < FEWEST_TURNS {
            return Err(OverlayError::Turns { turns });
        }
        let drawn = simulated(scene, plan);
        let found = run_times(&drawn, plan);
        if found.len() < turns {
            let why = drawn.failure().unwrap_or_else(|| "it was completed".to_owned());
            return Err(OverlayError::Simulated { simulated: found.len(), turns, why });
        }
        let ratio = stretch_ratio(&times, &found);
        if !(1.0 / MOST_STRETCH_RATIO..=MOST_STRETCH_RATIO).contains(&ratio) {
            return Err(OverlayError::Stretched { ratio });
        }
        let mut logged = Logged::new(scene, plan, turns, features(&times));
        let agrees = logged.rms_ms() < NOTHING_MS;
        if !agrees {
            logged.look();
        }
        let held_up = if agrees { Vec::new() } else { logged.leave_out() };
        let rms_ms = logged.rms_ms();
        let causes = if rms_ms < NOTHING_MS { Vec::new() } else { logged.causes() };
        let model = Model::new(scene, plan, log, &times, &drawn);
        let sets = sets::explained(&model, scene);
        let (shift_s, beats) = beats_off(&course, &times, &drawn, plan);
        let best = match sets.as_ref().and_then(|sets| sets.told.first()) {
            Some(told) => told.figures.iter().map(|own| (own.field, own.value)).collect(),
            None => causes.first().map_or_else(Vec::new, |own| vec![(own.field, own.value)]),
        };
        let fitted = (!best.is_empty()).then_some(best).and_then(|best| {
            let changes: Vec<_> =
                best.iter().map(|(field, value)| (*field, Json::from(*value))).collect();
            let changed = scene.with_all(&changes).ok()?;
            let run = simulated(&changed, plan);
            let (shift_s, beats) = beats_off(&course, &times, &run, plan);
            Some(FittedRun { changes: best, run, shift_s, beats })
        });
        Ok(Self {
            scene: scene.clone(),
            plan: plan.clone(),
            log: log.clone(),
            shift_s,
            drawn,
            beats,
            ends_early: turns < plan.turns().len(),
            rms_ms,
            held_up,
            causes,
            fitted,
            sets,
        })
    }

    /// The best cause, and those that cannot be told from it.
    pub fn likely(&self) -> impl Iterator<Item = &SingleCause> {
        self.causes.iter().filter(|cause| cause.as_good)
    }

    /// How far a face's motor had turned in the log, by its encoder, degrees, at a time of a simulated run that is
    /// shifted by `shift_s`.
    #[must_use]
    pub fn logged_deg(&self, face: usize, time_s: f64, shift_s: f64) -> f64 {
        let course = Course { time_s: &self.log.time_s, angles_deg: &self.log.angles_deg };
        course.turned_deg(face, time_s + shift_s)
    }

    /// Whether the simulated rig gets through the plan.
    #[must_use]
    pub fn simulated_completes(&self) -> bool {
        self.drawn.end == End::Completed
    }
}

/// How many times as long turns take as others, in the median.
fn stretch_ratio(times: &[TurnTimes], others: &[TurnTimes]) -> f64 {
    let pairs = times.iter().zip(others);
    upper_median(pairs.map(|(a, b)| a.duration_s() / b.duration_s())).unwrap_or(1.0)
}

fn run_times(run: &Run, plan: &Plan) -> Vec<TurnTimes> {
    let time_s = trace_times(run);
    Course { time_s: &time_s, angles_deg: &run.trace.encoders_deg }.times(plan)
}

/// The shift between a log and a run, and how far the beats are off then.
fn beats_off(log: &Course<'_>, times: &[TurnTimes], run: &Run, plan: &Plan) -> (f64, Vec<BeatOff>) {
    let time_s = trace_times(run);
    let course = Course { time_s: &time_s, angles_deg: &run.trace.encoders_deg };
    let found = course.times(plan);
    let first = |times: &[TurnTimes]| {
        let own = times.iter().take_while(|turn| turn.beat == 0);
        own.map(|turn| turn.at_s[0]).fold(f64::INFINITY, f64::min)
    };
    let shift_s = first(times) - first(&found);
    let starts = |own: &[TurnTimes]| own.iter().map(|t| t.at_s[0]).fold(f64::INFINITY, f64::min);
    let ends = |own: &[TurnTimes]| own.iter().map(|t| t.at_s[2]).fold(0.0, f64::max);
    let longest = |own: &[TurnTimes]| own.iter().map(TurnTimes::duration_s).fold(0.0, f64::max);
    let pairs = times.chunk_by(|a, b| a.beat == b.beat).map(|own| {
        let beat = own[0].beat;
        let of: Vec<TurnTimes> = found.iter().filter(|turn| turn.beat == beat).copied().collect();
        let from = starts(own).min(starts(&of) + shift_s) - MARGIN_S;
        let to = ends(own).max(ends(&of) + shift_s) + MARGIN_S;
        let (mut sum, mut count) = (0.0, 0.0_f64);
        for at in log.time_s.iter().filter(|t| (from..=to).contains(*t)) {
            for turn in own {
                let face = turn.turn.face.index();
                let off = log.turned_deg(face, *at) - course.turned_deg(face, at - shift_s);
                sum += off * off;
                count += 1.0;
            }
        }
        let turns: Vec<String> = own.iter().map(|turn| turn.turn.to_string()).collect();
        BeatOff {
            beat,
            turns: turns.join(" "),
            late_ms: (starts(own) - shift_s - starts(&of)) * 1e3,
            longer_ms: (longest(own) - longest(&of)) * 1e3,
            rms_deg: (sum / count.max(1.0)).sqrt(),
        }
    });
    (shift_s, pairs.collect())
}
