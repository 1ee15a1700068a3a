//! Settings on trial, and what their executions came to.

use std::sync::Arc;

use dryturn_cube::CubeState;
use dryturn_driving::{Detail, Machine};
use dryturn_handoff::Plan;
use dryturn_scene::Scene;
use dryturn_statistics::{exact_interval, quantile};
use dryturn_units::noise::Seed;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use super::PIECE;
use crate::failures::{FailureKind, Failures};
use crate::work::Watch;

/// Settings, one number from 0 to 1 for each knob, with what they did so far.
#[derive(Clone)]
pub(crate) struct Candidate {
    pub(crate) point: Vec<f64>,
    pub(crate) scene: Arc<Scene>,
    machine: Arc<Machine>,
    /// Seconds of each execution, in order of trials; `None` where it was not completed.
    pub(crate) times_s: Vec<Option<f64>>,
    /// Why those were not.
    failures: Failures,
}

/// What all candidates turn: the same plans in the same trials.
#[derive(Clone)]
pub(crate) struct Course {
    pub(crate) plans: Arc<Vec<Plan>>,
    pub(crate) seed: Seed,
}

impl Candidate {
    pub(crate) fn new(point: Vec<f64>, scene: Arc<Scene>) -> Self {
        let machine = Arc::new(Machine::of(&scene));
        Self { point, scene, machine, times_s: Vec::new(), failures: Failures::default() }
    }

    /// The same settings with nothing executed yet.
    pub(crate) fn afresh(&self) -> Self {
        Self { times_s: Vec::new(), failures: Failures::default(), ..self.clone() }
    }

    pub(crate) fn trials(&self) -> usize {
        self.times_s.len()
    }

    fn add(&mut self, execution: Result<f64, FailureKind>) {
        self.times_s.push(execution.ok());
        self.failures.add(execution.err());
    }

    /// All executions that failed, by kind.
    pub(crate) fn failures(&self) -> Failures {
        self.failures
    }

    /// Whether it surely fails more often than another one, over the trials that both made
    /// (exact one-sided 95 % test on those that only one of them failed; Q. McNemar,
    /// Psychometrika 12, 1947, from memory).
    pub(crate) fn fails_more_than(&self, other: &Self) -> bool {
        let alone = |a: &Self, b: &Self| {
            let both = a.times_s.iter().zip(&b.times_s);
            both.filter(|(a, b)| a.is_none() && b.is_some()).count()
        };
        let (own, its) = (alone(self, other), alone(other, self));
        // As many or more by a fair coin.
        own > its && exact_interval(own, own + its, 0.9).0 > 0.5
    }

    /// Median of the completed executions, s.
    pub(crate) fn median_s(&self) -> Option<f64> {
        let mut times: Vec<f64> = self.times_s.iter().flatten().copied().collect();
        times.sort_by(f64::total_cmp);
        quantile(&times, 0.5)
    }

    /// How much slower it is than another one, s, with the standard error, over the trials
    /// that both completed: the same luck under both. `None` for fewer than two.
    pub(crate) fn slower_than(&self, other: &Self) -> Option<(f64, f64)> {
        let both = self.times_s.iter().zip(&other.times_s);
        let differences: Vec<f64> = both.filter_map(|(a, b)| Some((*a)? - (*b)?)).collect();
        let n = differences.len() as f64;
        if n < 2.0 {
            return None;
        }
        let mean = differences.iter().sum::<f64>() / n;
        let squares: f64 = differences.iter().map(|d| (d - mean) * (d - mean)).sum();
        Some((mean, (squares / (n - 1.0) / n).sqrt()))
    }
}

/// Brings every candidate to so many trials, on all threads; `None` where it was broken
/// off.
pub(crate) fn extend(
    pool: &mut [Candidate],
    trials: usize,
    course: &Course,
    watch: &Watch<'_>,
) -> Option<()> {
    let jobs: Vec<(usize, u64)> = pool
        .iter()
        .enumerate()
        .flat_map(|(i, candidate)| (candidate.trials()..trials).map(move |t| (i, t as u64)))
        .collect();
    let mut executions: Vec<Result<f64, FailureKind>> = Vec::with_capacity(jobs.len());
    for piece in jobs.chunks(PIECE) {
        let one = |&(i, trial): &(usize, u64)| {
            if watch.stopped() {
                return None;
            }
            let execution = course.execute(&pool[i].machine, trial);
            watch.step();
            Some(execution)
        };
        executions
            .extend(watch.piece(piece.len(), || piece.par_iter().map(carried(one)).collect())?);
    }
    for (&(i, _), execution) in jobs.iter().zip(executions) {
        pool[i].add(execution);
    }
    Some(())
}

impl Course {
    /// Its time, s, or why it failed.
    fn execute(&self, machine: &Machine, trial: u64) -> Result<f64, FailureKind> {
        let plan = &self.plans[(trial % self.plans.len() as u64) as usize];
        let run = machine.run(&CubeState::SOLVED, plan, self.seed.trial(trial), Detail::Figures);
        FailureKind::of_run(&run).map_or(Ok(run.total_s), Err)
    }
}
