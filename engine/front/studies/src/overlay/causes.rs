//! What might be different on the rig from what is drawn: fields of the scene, one at a
//! time, each at the value that explains a log best.

use dryturn_cube::CubeState;
use dryturn_driving::{Detail, Machine};
use dryturn_handoff::{Plan, Run};
use dryturn_numerics::golden_section;
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use super::HeldUp;
use super::suspects::{Suspect, suspects};
use super::times::{Course, Feature, features};

/// Values that are tried first, evenly over the range.
const FIRST_TRIES: usize = 9;
/// Golden sections of the range that is left: where outliers are looked for, and then.
const GOLDEN_STEPS: [usize; 2] = [5, 11];
/// A stretch that the best field leaves so far off, in robust standard deviations (1.4826
/// median magnitudes), and by at least so much, ms, was held up by something of its own.
const OUTLIER_SIGMAS: f64 = 6.0;
const OUTLIER_MS: f64 = 0.4;
/// At most this share of the stretches.
const MOST_OUTLIERS_SHARE: f64 = 0.2;
/// Two fields that leave sums of squares within this, in units of the mean square that the
/// best leaves, explain a log equally well: 95 % of chi-square with one degree of freedom.
const EQUAL_CHI_SQUARE: f64 = 3.84;
/// Nothing below this is told apart, ms.
const LEAST_RMS_MS: f64 = 0.03;

/// A field that explains less than this share explains nothing, and stays as drawn.
const LEAST_SHARE: f64 = 0.005;

/// A field of the scene with the value that explains most.
#[derive(Clone, Debug, PartialEq)]
pub struct SingleCause {
    /// Path of the field in the scene.
    pub field: &'static str,
    /// In words.
    pub words: &'static str,
    /// As drawn.
    pub drawn: f64,
    /// As it explains most.
    pub value: f64,
    /// Root mean square of what is left at that value, ms.
    pub rms_ms: f64,
    /// Share of the residuals' sum of squares that it explains, 0 to 1.
    pub explained_share: f64,
    /// Whether it cannot be told from the best one.
    pub as_good: bool,
}

/// The error-free run of a plan.
pub(super) fn simulated(scene: &Scene, plan: &Plan) -> Run {
    let machine = Machine::without_errors(scene);
    machine.run(&CubeState::SOLVED, plan, Seed::new(0).trial(0), Detail::Trace)
}

/// When the samples of a run's trace were taken, s.
pub(super) fn trace_times(run: &Run) -> Vec<f64> {
    (0..run.trace.encoders_deg.len()).map(|k| k as f64 * run.trace.step_s).collect()
}

/// Stretches of the first `turns` turns of a simulated run; `None` where it does not come to
/// them.
fn features_of(run: &Run, plan: &Plan, turns: usize) -> Option<Vec<Feature>> {
    let time_s = trace_times(run);
    let course = Course { time_s: &time_s, angles_deg: &run.trace.encoders_deg };
    let times = course.times(plan);
    (times.len() >= turns).then(|| features(&times[..turns]))
}

/// How what is left is summed up.
#[derive(Clone, Copy, PartialEq)]
enum Sum {
    /// Magnitudes: single stretches that are far off hardly count.
    Magnitudes,
    /// Squares.
    Squares,
}

/// What is to be explained.
pub(super) struct Logged<'a> {
    scene: &'a Scene,
    plan: &'a Plan,
    turns: usize,
    features: Vec<Feature>,
    /// Whether each was not held up by something of its own.
    kept: Vec<bool>,
    /// Of each field, values with the residuals there.
    looks: Vec<Vec<(f64, Option<Vec<f64>>)>>,
}

impl<'a> Logged<'a> {
    pub(super) fn new(
        scene: &'a Scene,
        plan: &'a Plan,
        turns: usize,
        features: Vec<Feature>,
    ) -> Self {
        let kept = vec![true; features.len()];
        Self { scene, plan, turns, features, kept, looks: Vec::new() }
    }

    /// How much longer each stretch is than on a scene's rig, ms.
    fn residuals(&self, scene: &Scene) -> Option<Vec<f64>> {
        let found = features_of(&simulated(scene, self.plan), self.plan, self.turns)?;
        Some(self.features.iter().zip(found).map(|(logged, own)| logged.ms - own.ms).collect())
    }

    /// What a scene leaves of those that are kept; infinite where it does not get so far.
    fn left(&self, scene: &Scene, sum: Sum) -> f64 {
        self.left_of(self.residuals(scene).as_deref(), sum)
    }

    fn left_of(&self, residuals: Option<&[f64]>, sum: Sum) -> f64 {
        let Some(residuals) = residuals else { return f64::INFINITY };
        let kept = residuals.iter().zip(&self.kept).filter(|(_, kept)| **kept);
        kept.map(|(off, _)| if sum == Sum::Squares { off * off } else { off.abs() }).sum()
    }

    fn count(&self) -> f64 {
        self.kept.iter().filter(|kept| **kept).count() as f64
    }

    /// Root mean square of what the drawn rig leaves, ms.
    pub(super) fn rms_ms(&self) -> f64 {
        (self.left(self.scene, Sum::Squares) / self.count()).sqrt()
    }

    /// The residuals at a field's value.
    fn tried(&self, suspect: &Suspect, value: f64) -> Option<Vec<f64>> {
        let scene = self.scene.with(suspect.field, serde_json::Value::from(value));
        self.residuals(&scene.ok()?)
    }

    /// Values evenly over each field's range, with the residuals there.
    pub(super) fn look(&mut self) {
        let look = |suspect: &Suspect| -> Vec<(f64, Option<Vec<f64>>)> {
            let [low, high] = suspect.range;
            let step = (high - low) / (FIRST_TRIES - 1) as f64;
            let values = (0..FIRST_TRIES).map(|k| low + step * k as f64);
            values.map(|value| (value, self.tried(suspect, value))).collect()
        };
        self.looks = suspects(self.scene).par_iter().map(carried(look)).collect();
    }

    /// The best value of a field, by its number, and what it leaves: the best of those that
    /// were looked at, then golden sections round it.
    fn best(&self, number: usize, suspect: &Suspect, before: f64, sum: Sum) -> (f64, f64) {
        let [low, high] = suspect.range;
        let left = |value: f64| self.left_of(self.tried(suspect, value).as_deref(), sum);
        let step = (high - low) / (FIRST_TRIES - 1) as f64;
        let tries = self.looks[number].iter();
        let better = |a: (f64, f64), b: (f64, f64)| if b.1 < a.1 { b } else { a };
        let best = tries
            .map(|(value, residuals)| (*value, self.left_of(residuals.as_deref(), sum)))
            .fold((suspect.drawn, before), better);
        let (from, to) = ((best.0 - step).max(low), (best.0 + step).min(high));
        let sections = GOLDEN_STEPS[usize::from(sum == Sum::Squares)];
        golden_section(from, to, sections, left).into_iter().fold(best, better)
    }

    /// Leaves out stretches that were held up by something of their own, and names them.
    pub(super) fn leave_out(&mut self) -> Vec<HeldUp> {
        let before = self.left(self.scene, Sum::Magnitudes);
        let suspects = suspects(self.scene);
        let tried: Vec<(f64, f64)> = suspects
            .par_iter()
            .enumerate()
            .map(carried(|(number, suspect)| self.best(number, suspect, before, Sum::Magnitudes)))
            .collect();
        let best = suspects.iter().zip(tried).min_by(|a, b| a.1.1.total_cmp(&b.1.1));
        let changed = best.and_then(|(suspect, (value, _))| {
            self.scene.with(suspect.field, serde_json::Value::from(value)).ok()
        });
        let Some(residuals) = changed.and_then(|scene| self.residuals(&scene)) else {
            return Vec::new();
        };
        let mut sorted: Vec<f64> = residuals.iter().map(|off| off.abs()).collect();
        sorted.sort_by(f64::total_cmp);
        let sigma = 1.4826 * sorted[sorted.len() / 2];
        let limit = (OUTLIER_SIGMAS * sigma).max(OUTLIER_MS);
        let most = (MOST_OUTLIERS_SHARE * sorted.len() as f64) as usize;
        if sorted[sorted.len() - 1 - most] > limit {
            // So many are no outliers.
            return Vec::new();
        }
        self.kept = residuals.iter().map(|off| off.abs() <= limit).collect();
        let all = self.features.iter().zip(residuals).zip(&self.kept);
        all.filter(|(_, kept)| !**kept)
            .map(|((feature, off_ms), _)| HeldUp {
                beat: feature.beat,
                turn: feature.turn,
                stretch: feature.stretch,
                longer_ms: off_ms,
            })
            .collect()
    }

    /// Every field by itself, the one that explains most first.
    pub(super) fn causes(&self) -> Vec<SingleCause> {
        let before = self.left(self.scene, Sum::Squares);
        let count = self.count();
        let cause = |(number, suspect): (usize, &Suspect)| {
            let (value, left) = self.best(number, suspect, before, Sum::Squares);
            let explains = left < (1.0 - LEAST_SHARE) * before;
            let (value, left) = if explains { (value, left) } else { (suspect.drawn, before) };
            SingleCause {
                field: suspect.field,
                words: suspect.words,
                drawn: suspect.drawn,
                value,
                rms_ms: (left / count).sqrt(),
                explained_share: if before > 0.0 { 1.0 - left / before } else { 0.0 },
                as_good: false,
            }
        };
        let mut causes: Vec<SingleCause> =
            suspects(self.scene).par_iter().enumerate().map(carried(cause)).collect();
        // What is equal to a hundredth of a millisecond stays in the list's order.
        causes.sort_by_key(|cause| (cause.rms_ms * 100.0).round() as u64);
        let square = |cause: &SingleCause| count * cause.rms_ms * cause.rms_ms;
        let best = causes.iter().map(square).fold(f64::INFINITY, f64::min);
        let noise = best.max(count * LEAST_RMS_MS * LEAST_RMS_MS) / (count - 1.0).max(1.0);
        for cause in &mut causes {
            cause.as_good = square(cause) <= best + EQUAL_CHI_SQUARE * noise;
        }
        causes
    }
}
