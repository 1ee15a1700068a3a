//! The simulated run as a function of the figures that may be to blame.

use dryturn_handoff::{Plan, Run, RunLog};
use dryturn_scene::Scene;
use dryturn_units::stop::carried;
use rayon::prelude::*;
use serde_json::Value as Json;

use super::causes::{simulated, trace_times};
use super::signature::{Currents, Measure, differences, kinds, measures, scatter};
use super::suspects::{Suspect, suspects};
use super::times::{Course, TurnTimes};

/// A figure's effect is looked at in steps of so much of a coordinate, at most; and in at least
/// and at most so many steps to either end of its range.
const STEP: f64 = 0.65;
const STEPS: [f64; 2] = [3.0, 12.0];

/// What is fitted, and with what.
pub(super) struct Model<'a> {
    scene: &'a Scene,
    pub(super) plan: &'a Plan,
    turns: usize,
    pub(super) suspects: Vec<Suspect>,
    pub(super) kinds: Vec<usize>,
    logged: Vec<Measure>,
    /// Currents are measured in it, A; `None` where the log has none.
    reference_a: Option<f64>,
}

impl<'a> Model<'a> {
    pub(super) fn new(
        scene: &'a Scene,
        plan: &'a Plan,
        log: &RunLog,
        times: &[TurnTimes],
        drawn: &Run,
    ) -> Self {
        let rows = drawn.trace.currents_a.iter().flatten();
        let highest_a = rows.map(|current| current.abs()).fold(1e-3, f64::max);
        let reference_a = log.currents_a.as_ref().map(|_| highest_a);
        let course = Course { time_s: &log.time_s, angles_deg: &log.angles_deg };
        let currents: Currents<'_> = log.currents_a.as_deref().map(|rows| (rows, highest_a));
        let logged = measures(times, &course, currents);
        let kinds = kinds(&logged);
        let suspects = suspects(scene);
        Self { scene, plan, turns: times.len(), suspects, kinds, logged, reference_a }
    }

    /// The scene with figures at coordinates.
    pub(super) fn scene(&self, at: &[f64]) -> Option<Scene> {
        let changed = self.suspects.iter().zip(at).filter(|(_, at)| **at != 0.0);
        let changes: Vec<(&str, Json)> =
            changed.map(|(own, at)| (own.field, Json::from(own.value(*at)))).collect();
        self.scene.with_all(&changes).ok()
    }

    /// The measures of a simulated run; `None` where it does not come as far as the log.
    pub(super) fn measures_of(&self, run: &Run) -> Option<Vec<Measure>> {
        let time_s = trace_times(run);
        let course = Course { time_s: &time_s, angles_deg: &run.trace.encoders_deg };
        let times = course.times(self.plan);
        let currents = self.reference_a.map(|own| (&run.trace.currents_a[..], own));
        (times.len() >= self.turns).then(|| measures(&times[..self.turns], &course, currents))
    }

    /// The measures of a scene's rig without errors.
    pub(super) fn measures(&self, scene: &Scene) -> Option<Vec<Measure>> {
        self.measures_of(&simulated(scene, self.plan))
    }

    /// By how much the log differs from the rig without errors with figures at coordinates.
    pub(super) fn off(&self, at: &[f64]) -> Option<Vec<f64>> {
        let own = self.measures(&self.scene(at)?)?;
        Some(differences(&self.kinds, &self.logged, &own))
    }

    /// How the log's turns scatter about a scene's.
    pub(super) fn scatter(&self, scene: &Scene) -> Option<Vec<f64>> {
        Some(scatter(&self.kinds, &self.logged, &self.measures(scene)?))
    }

    /// What each figure by itself changes.
    pub(super) fn responses(&self) -> Option<Vec<Response>> {
        let drawn = self.measures(self.scene)?;
        let points: Vec<(usize, f64)> = (0..self.suspects.len())
            .flat_map(|figure| {
                let [low, high] = self.suspects[figure].ends();
                let steps = |end: f64| (end.abs() / STEP).ceil().clamp(STEPS[0], STEPS[1]) as i32;
                let share = |step: i32, end: f64| f64::from(step) / f64::from(steps(end));
                let below: Vec<f64> =
                    (1..=steps(low)).rev().map(|step| low * share(step, low)).collect();
                let above: Vec<f64> =
                    (0..=steps(high)).map(|step| high * share(step, high)).collect();
                below.into_iter().chain(above).map(move |at| (figure, at))
            })
            .collect();
        let effect = |&(figure, at): &(usize, f64)| {
            let mut all = vec![0.0; self.suspects.len()];
            all[figure] = at;
            let own = self.measures(&self.scene(&all)?)?;
            Some(differences(&self.kinds, &own, &drawn))
        };
        let effects: Vec<Option<Vec<f64>>> = points.par_iter().map(carried(effect)).collect();
        let of = |figure: usize| {
            let own = points.iter().zip(&effects).filter(|((f, _), _)| *f == figure);
            let mut points: Vec<(f64, Vec<f64>)> =
                own.filter_map(|((_, at), effect)| Some((*at, effect.clone()?))).collect();
            points.dedup_by(|a, b| a.0 == b.0);
            Response { points }
        };
        Some((0..self.suspects.len()).map(of).collect())
    }
}

/// What one figure by itself changes, at rising coordinates.
#[derive(Clone, Debug)]
pub(super) struct Response {
    pub(super) points: Vec<(f64, Vec<f64>)>,
}

impl Response {
    /// With other effects.
    pub(super) fn map(&self, of: impl Fn(&[f64]) -> Vec<f64>) -> Self {
        let points = self.points.iter().map(|(at, effect)| (*at, of(effect))).collect();
        Self { points }
    }

    pub(super) fn ends(&self) -> [f64; 2] {
        [self.points[0].0, self.points[self.points.len() - 1].0]
    }

    /// Two neighbouring points that a coordinate lies between.
    fn cell(&self, at: f64) -> Option<[&(f64, Vec<f64>); 2]> {
        let after = self.points.partition_point(|(own, _)| *own <= at);
        let after = after.clamp(1, self.points.len().checked_sub(1).filter(|last| *last > 0)?);
        Some([&self.points[after - 1], &self.points[after]])
    }

    /// Adds its effect at a coordinate, so many times.
    pub(super) fn add(&self, at: f64, times: f64, into: &mut [f64]) {
        let Some([from, to]) = self.cell(at) else { return };
        let share = (at - from.0) / (to.0 - from.0);
        for (sum, (a, b)) in into.iter_mut().zip(from.1.iter().zip(&to.1)) {
            *sum += times * (a + share * (b - a));
        }
    }

    /// Its change with the coordinate there.
    pub(super) fn slope(&self, at: f64) -> Vec<f64> {
        let Some([from, to]) = self.cell(at) else { return Vec::new() };
        from.1.iter().zip(&to.1).map(|(a, b)| (b - a) / (to.0 - from.0)).collect()
    }
}
