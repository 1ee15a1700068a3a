//! What keeps the found settings from being faster: each knob moved a little to either
//! side.

use super::candidate::{Candidate, extend};
use super::knobs::{Range, scene_at};
use super::race::Field;
use crate::failures::Failures;

/// How far a knob is moved, of its range.
const STEP: f64 = 0.12;
/// Less than this nobody calls faster, s.
const MATTERS_S: f64 = 3e-4;

/// A knob moved to one side.
#[derive(Clone, Debug, PartialEq)]
pub struct Nudge {
    /// The value it then has.
    pub value: String,
    /// How much faster executions then are in the mean, s; negative: slower. `None` where
    /// none was completed.
    pub faster_s: Option<f64>,
    /// Executions, and those that then fail, by kind.
    pub failures: Failures,
    /// Whether those surely are more than at the found settings.
    pub fails_more: bool,
}

/// What became of moving one knob.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// The field.
    pub field: String,
    /// Its value as found.
    pub value: String,
    /// Executions at the found settings, and those that failed, by kind.
    pub failures: Failures,
    /// Towards less, and towards more; `None` at an end of the range, and where no scene
    /// comes of it.
    pub nudges: [Option<Nudge>; 2],
    /// At an end of its range: the torque limit at what drive and shafts allow, and so on.
    pub at_end: [bool; 2],
}

impl Limit {
    /// What it says about speed, where it says anything, one sentence without a full stop.
    #[must_use]
    pub fn sentence(&self) -> Option<String> {
        let faster = |nudge: &&Nudge| nudge.faster_s.is_none_or(|s| s > MATTERS_S);
        let sides = self.nudges.iter().flatten();
        if let Some(nudge) = sides.filter(faster).find(|nudge| nudge.fails_more) {
            let gain = nudge.faster_s.map_or_else(
                || "nothing completes".to_owned(),
                |s| format!("{:.1} ms faster", s * 1e3),
            );
            return Some(format!(
                "{} from {} to {}: {gain}, but {} instead of {}",
                self.field,
                self.value,
                nudge.value,
                nudge.failures.words(),
                self.failures.count()
            ));
        }
        for (side, other) in [(0, 1), (1, 0)] {
            let slower = |nudge: &Nudge| nudge.faster_s.is_some_and(|s| s < -MATTERS_S);
            if self.at_end[side]
                && let Some(nudge) = self.nudges[other].as_ref().filter(|nudge| slower(nudge))
            {
                return Some(format!(
                    "{} stands at the end of its range, {}; {} costs {:.1} ms",
                    self.field,
                    self.value,
                    nudge.value,
                    nudge.faster_s.map_or(0.0, |s| -s * 1e3)
                ));
            }
        }
        let faster_yet = |nudge: &&Nudge| nudge.faster_s.is_some_and(|s| s > MATTERS_S);
        let nudge = self.nudges.iter().flatten().find(faster_yet)?;
        Some(format!(
            "{} from {} to {}: {:.1} ms faster, and with {} of {} instead of {} too few fail to tell; \
             faster settings than those found were refused on fresh trials, or never tried",
            self.field,
            self.value,
            nudge.value,
            nudge.faster_s.map_or(0.0, |s| s * 1e3),
            nudge.failures.count(),
            nudge.failures.trials(),
            self.failures.count()
        ))
    }
}

/// Moves each number among the knobs; `None` where it was broken off.
pub(crate) fn limits(field: &Field<'_>, chosen: &Candidate) -> Option<Vec<Limit>> {
    let mut centre = chosen.clone();
    extend(core::slice::from_mut(&mut centre), field.most_trials, field.course, field.watch)?;
    let mut found = Vec::new();
    for (i, knob) in field.knobs.iter().enumerate() {
        if matches!(knob.range, Range::Choice(_)) {
            continue;
        }
        let at = chosen.point[i];
        let mut nudges = [None, None];
        for (side, to) in [at - STEP, at + STEP].into_iter().enumerate() {
            let to = to.clamp(0.0, 1.0);
            if (to - at).abs() < 0.25 * STEP {
                continue;
            }
            let mut point = chosen.point.clone();
            point[i] = to;
            let ratio = field.target.static_safety_ratio;
            let Ok(scene) = scene_at(field.scene, field.knobs, &point, ratio) else { continue };
            // What does not matter under the chosen policy.
            if scene.file() == chosen.scene.file() {
                continue;
            }
            let mut moved = [Candidate::new(point, scene.into())];
            extend(&mut moved, field.most_trials, field.course, field.watch)?;
            let [moved] = moved;
            nudges[side] = Some(Nudge {
                value: knob.value_in(&moved.scene),
                faster_s: moved.slower_than(&centre).map(|(mean, _)| -mean),
                failures: moved.failures(),
                fails_more: moved.fails_more_than(&centre),
            });
        }
        if nudges.iter().all(Option::is_none) {
            continue;
        }
        found.push(Limit {
            field: knob.field.clone(),
            value: knob.value_in(&chosen.scene),
            failures: centre.failures(),
            nudges,
            // The top of what the set-points come to anyway limits nothing.
            at_end: [
                at < 0.25 * STEP,
                at > 1.0 - 0.25 * STEP && !matches!(knob.range, Range::Below(..)),
            ],
        });
    }
    Some(found)
}
