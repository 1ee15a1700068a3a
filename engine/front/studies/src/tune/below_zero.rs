//! What a clearance margin below zero would buy, where the builder has not allowed one: the
//! settings that were found, with that margin alone changed.
//!
//! A few margins are looked at on some of the race's trials, the fastest on all of them; what
//! is told comes from the trials of the proof, against the found settings on the same ones, and
//! of the fastest margin that keeps the target there. That is less than tuning everything anew:
//! other settings might make more of it.

use std::sync::Arc;

use dryturn_driving::Machine;
use dryturn_scene::Scene;
use dryturn_scene::file::Policy;
use dryturn_statistics::Z_95;
use serde_json::Value as Json;

use super::candidate::{Candidate, extend};
use super::knobs::{MARGIN, Range};
use super::race::Field;
use crate::axes::TurningDrill;

/// Margins that are tried, degrees.
const MARGINS_DEG: [f64; 7] = [-0.25, -0.5, -1.0, -1.5, -2.0, -3.0, -4.0];
/// Trials of the look at each of them.
const LOOK: usize = 64;
/// So many of them are tried further at most.
const CHOICES: usize = 3;
/// Pieces that overlap by no more than this, mm, touch nothing.
const TOUCH_MM: f64 = 5e-4;

/// What a margin below zero would buy.
#[derive(Clone, Debug)]
pub struct BelowZero {
    /// The margins that were tried, degrees.
    pub tried_deg: Vec<f64>,
    /// The fastest of them that keeps the target; `None` where none is faster and does.
    pub best: Option<Bought>,
    /// Executions that the question took.
    pub executions: usize,
}

/// The settings that were found, with a margin below zero, on the trials of the proof.
#[derive(Clone, Debug)]
pub struct Bought {
    /// The margin, degrees.
    pub margin_deg: f64,
    /// By how much executions are faster than with the found margin, mean over those that both
    /// complete, s.
    pub saves_s: f64,
    /// Its 95 % interval, of the mean of paired differences.
    pub interval_s: (f64, f64),
    /// Executions that fail, and that fail with the found margin.
    pub failures: (usize, usize),
    /// Executions on either side.
    pub trials: usize,
    /// How deep the pieces of neighbours overlap at the most, by set-points, mm.
    pub overlap_mm: f64,
}

/// How deep the pieces of neighbours overlap at the most, by set-points, mm; 0 where they
/// pass untouched.
pub(crate) fn overlap_mm(scene: &Scene) -> f64 {
    let leads = *Machine::of(scene).leads();
    let deepest = leads.iter().map(|lead| -lead.nearest_mm).fold(0.0, f64::max);
    if deepest > TOUCH_MM { deepest } else { 0.0 }
}

/// Whether there is anything to ask: the margin was free, but not below zero, and is used.
fn applies(field: &Field<'_>, chosen: &Candidate) -> bool {
    let free = |range: &Range| matches!(range, Range::Linear(low, _) if *low >= 0.0);
    chosen.scene.file().handover.policy == Policy::Predict
        && field.knobs.iter().any(|knob| knob.field == MARGIN && free(&knob.range))
}

/// Asks. `prove` executes a scene on the trials of the proof, as `found` was. The outer `None`:
/// broken off; the inner: nothing to ask.
pub(crate) fn below_zero(
    field: &Field<'_>,
    chosen: &Candidate,
    found: &TurningDrill,
    prove: &dyn Fn(&Arc<Scene>) -> Option<TurningDrill>,
) -> Option<Option<BelowZero>> {
    if !applies(field, chosen) {
        return Some(None);
    }
    let mut centre = chosen.clone();
    extend(core::slice::from_mut(&mut centre), LOOK, field.course, field.watch)?;
    let mut asked = BelowZero { tried_deg: Vec::new(), best: None, executions: 0 };
    let mut faster: Vec<(f64, Candidate)> = Vec::new();
    for margin_deg in MARGINS_DEG {
        let Ok(scene) = chosen.scene.with(MARGIN, Json::from(margin_deg)) else { continue };
        let mut one = [Candidate::new(chosen.point.clone(), Arc::new(scene))];
        extend(&mut one, LOOK, field.course, field.watch)?;
        let [one] = one;
        asked.tried_deg.push(margin_deg);
        asked.executions += LOOK;
        if one.failures().count() > 1 && one.failures().interval().0 > field.target.jam_rate {
            // Deeper ones fail no less.
            break;
        }
        if let Some((slower_s, _)) = one.slower_than(&centre).filter(|(mean, _)| *mean < 0.0) {
            faster.push((slower_s, one));
        }
    }
    faster.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (_, candidate) in faster.into_iter().take(CHOICES) {
        let mut one = [candidate];
        asked.executions += field.most_trials.saturating_sub(LOOK);
        extend(&mut one, field.most_trials, field.course, field.watch)?;
        if one[0].failures().share() > field.target.aim() {
            continue;
        }
        let drill = prove(&one[0].scene)?;
        asked.executions += drill.trials();
        if drill.failures().interval().1 < field.target.jam_rate {
            asked.best = bought(&one[0].scene, &drill, found);
            break;
        }
    }
    Some(Some(asked))
}

fn bought(scene: &Scene, drill: &TurningDrill, found: &TurningDrill) -> Option<Bought> {
    let both = found.executions.iter().zip(&drill.executions);
    let completed = both.filter(|(a, b)| a.completed() && b.completed());
    let saved: Vec<f64> = completed.map(|(a, b)| a.total_s - b.total_s).collect();
    let n = saved.len() as f64;
    if n < 2.0 {
        return None;
    }
    let mean = saved.iter().sum::<f64>() / n;
    let squares: f64 = saved.iter().map(|s| (s - mean) * (s - mean)).sum();
    let half = Z_95 * (squares / (n - 1.0) / n).sqrt();
    Some(Bought {
        margin_deg: scene.file().handover.clearance_margin_deg,
        saves_s: mean,
        interval_s: (mean - half, mean + half),
        failures: (drill.failures().count(), found.failures().count()),
        trials: drill.trials(),
        overlap_mm: overlap_mm(scene),
    })
}

impl BelowZero {
    /// One sentence without a full stop.
    #[must_use]
    pub fn sentence(&self) -> String {
        let asked = format!("asked with {} executions beside the race", self.executions);
        let Some(bought) = &self.best else {
            let tried: Vec<String> = self.tried_deg.iter().map(|deg| format!("{deg}°")).collect();
            return format!(
                "a clearance margin below zero, with the other settings as found, would buy nothing: of \
                 {} none is faster and keeps the target; {asked}",
                tried.join(", ")
            );
        };
        let Bought { margin_deg, saves_s, interval_s, failures, trials, overlap_mm } = bought;
        let touch = if *overlap_mm > 0.0 {
            format!("pieces push each other aside, overlapping by up to {overlap_mm:.3} mm")
        } else {
            "pieces still pass each other by their set-points, with nothing to spare".to_owned()
        };
        format!(
            "a clearance margin below zero is not used unless allowed: at {margin_deg}°, with the other \
             settings as found, {touch}; executions are {:.1} ms faster (95 % interval {:.1} to {:.1}, \
             same trials) and {} of {trials} fail instead of {}; --allow \
             handover.clearance_margin_deg=-8..0.6 lets tuning use it; {asked}",
            saves_s * 1e3,
            interval_s.0 * 1e3,
            interval_s.1 * 1e3,
            failures.0,
            failures.1
        )
    }
}
