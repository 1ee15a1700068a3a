//! After the race: back to its present value goes whatever does not matter, before and after
//! one knob at a time is moved, in steps that get smaller.

use std::sync::Arc;

use super::candidate::{Candidate, extend};
use super::knobs::{Range, scene_at};
use super::race::Field;

/// Steps, of each range.
const STEPS: [f64; 3] = [0.12, 0.06, 0.03];
/// Sweeps over all knobs at one step, at most.
const SWEEPS: usize = 3;
/// Trials of a first look, before all of them are made.
const LOOK: usize = 48;
/// A step is worth its while from here, s.
const MATTERS_S: f64 = 2e-4;

/// A step of the path is kept where it is so much faster than the last one that was.
const KEPT_SHARE: f64 = 0.004;

struct Polish<'a> {
    field: &'a Field<'a>,
    best: Candidate,
    /// Where it came from, so far.
    path: Vec<Candidate>,
    /// What was tried beside it.
    beside: Vec<Candidate>,
}

/// What polishing leaves.
pub(crate) struct Polished {
    /// The fastest first, then those that lead to it.
    pub(crate) path: Vec<Candidate>,
    /// What was tried beside them.
    pub(crate) beside: Vec<Candidate>,
}

/// Better settings near these, if there are any, and no more of them changed than
/// matters; `None` where it was broken off.
pub(crate) fn polish(field: &Field<'_>, best: &Candidate) -> Option<Polished> {
    let mut polish = Polish { field, best: best.clone(), path: Vec::new(), beside: Vec::new() };
    extend(core::slice::from_mut(&mut polish.best), field.most_trials, field.course, field.watch)?;
    polish.revert()?;
    for step in STEPS {
        for _ in 0..SWEEPS {
            if !polish.sweep(step)? {
                break;
            }
        }
    }
    polish.revert()?;
    let Polish { best, mut path, beside, .. } = polish;
    path.push(best);
    path.reverse();
    let mut kept: Vec<Candidate> = Vec::new();
    for step in path {
        let time = |candidate: &Candidate| candidate.median_s().unwrap_or(f64::INFINITY);
        if kept.last().is_none_or(|last| time(&step) > time(last) * (1.0 + KEPT_SHARE)) {
            kept.push(step);
        }
    }
    Some(Polished { path: kept, beside })
}

impl Polish<'_> {
    fn numbers(&self) -> impl Iterator<Item = usize> + use<> {
        let is_number = |range: &Range| !matches!(range, Range::Choice(_));
        let numbers: Vec<usize> = (0..self.field.knobs.len())
            .filter(|&i| is_number(&self.field.knobs[i].range))
            .collect();
        numbers.into_iter()
    }

    /// Every knob to either side; whether any step was taken.
    fn sweep(&mut self, step: f64) -> Option<bool> {
        let mut any = false;
        for i in self.numbers() {
            for by in [-step, step] {
                let to = (self.best.point[i] + by).clamp(0.0, 1.0);
                if self.moved(i, to, MATTERS_S)? {
                    any = true;
                    break;
                }
            }
        }
        Some(any)
    }

    /// What does not matter goes back to where it was.
    fn revert(&mut self) -> Option<()> {
        for i in self.numbers() {
            let present = self.field.knobs[i].place_in(self.field.scene);
            self.moved(i, present, -MATTERS_S)?;
        }
        Some(())
    }

    /// Moves one knob where that is faster by at least so much, and fails no more often
    /// than the target's aim or than now.
    fn moved(&mut self, knob: usize, to: f64, worth_s: f64) -> Option<bool> {
        let field = self.field;
        if to == self.best.point[knob] {
            return Some(false);
        }
        let mut point = self.best.point.clone();
        point[knob] = to;
        let ratio = field.target.static_safety_ratio;
        let Ok(scene) = scene_at(field.scene, field.knobs, &point, ratio) else {
            return Some(false);
        };
        if scene.file() == self.best.scene.file() {
            // Nothing that matters has changed.
            return Some(false);
        }
        let mut one = [Candidate::new(point, Arc::new(scene))];
        for trials in [LOOK, field.most_trials] {
            extend(&mut one, trials, field.course, field.watch)?;
            let slower_s = one[0].slower_than(&self.best).map_or(f64::INFINITY, |(mean, _)| mean);
            let failures = one[0].failures().count();
            let before = self.best.times_s[..trials].iter().filter(|time| time.is_none()).count();
            let few = (field.target.aim() * trials as f64) as usize;
            if slower_s > -worth_s || failures > few.max(before) {
                let [one] = one;
                self.beside.push(one);
                return Some(false);
            }
        }
        let [one] = one;
        self.path.push(core::mem::replace(&mut self.best, one));
        Some(true)
    }
}
