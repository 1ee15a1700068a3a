//! What keeps the found settings from being faster: each knob moved a little to either
//! side; and which of that binds first.

use dryturn_driving::Machine;

use super::candidate::{Candidate, extend};
use super::knobs::{Knob, MARGIN, Range, scene_at};
use super::race::Field;
use super::words;
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
pub struct TuneLimit {
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
    /// Why it ends there, one clause; `None` where it does not.
    pub at_end: [Option<String>; 2],
}

/// How a knob keeps the settings from being faster.
enum Hold<'a> {
    /// Further to one side executions are faster, and surely fail more often.
    Fails(usize, &'a Nudge),
    /// It stands at the end of its range, and towards the other side executions are slower.
    End(&'a str, &'a Nudge),
    /// Further to one side executions are faster, and too few fail to tell.
    Unsure(usize, &'a Nudge),
}

impl TuneLimit {
    fn hold(&self) -> Option<Hold<'_>> {
        let sides = || self.nudges.iter().enumerate().filter_map(|(k, n)| Some((k, n.as_ref()?)));
        let faster = |nudge: &Nudge| nudge.faster_s.is_none_or(|s| s > MATTERS_S);
        if let Some((side, nudge)) = sides().find(|(_, n)| n.fails_more && faster(n)) {
            return Some(Hold::Fails(side, nudge));
        }
        for (side, other) in [(0, 1), (1, 0)] {
            let slower = |nudge: &&Nudge| nudge.faster_s.is_some_and(|s| s < -MATTERS_S);
            if let (Some(because), Some(back)) =
                (&self.at_end[side], self.nudges[other].as_ref().filter(slower))
            {
                return Some(Hold::End(because, back));
            }
        }
        let faster_yet = |nudge: &Nudge| nudge.faster_s.is_some_and(|s| s > MATTERS_S);
        sides().find(|(_, nudge)| faster_yet(nudge)).map(|(k, nudge)| Hold::Unsure(k, nudge))
    }

    /// What a step is worth, s: that it would save, or that going back by one costs. The
    /// limit with the most at stake binds first.
    #[must_use]
    pub fn stake_s(&self) -> Option<f64> {
        Some(match self.hold()? {
            Hold::Fails(_, nudge) | Hold::Unsure(_, nudge) => nudge.faster_s.unwrap_or(0.0),
            Hold::End(_, back) => -back.faster_s.unwrap_or(0.0),
        })
    }

    /// What it says about speed, where it says anything, one sentence without a full stop.
    #[must_use]
    pub fn sentence(&self) -> Option<String> {
        let (field, value) = (&self.field, &self.value);
        let ms = |nudge: &Nudge| nudge.faster_s.map_or(0.0, |s| s.abs() * 1e3);
        let effect = |side: usize| words::effect(field, side == 1);
        let effect = |side| effect(side).map_or_else(String::new, |says| format!(" ({says})"));
        Some(match self.hold()? {
            Hold::Fails(side, nudge) => {
                let gain = match nudge.faster_s {
                    None => "nothing completes".to_owned(),
                    Some(_) => format!("{:.1} ms faster", ms(nudge)),
                };
                format!(
                    "{field} from {value} to {}{}: {gain}, but {} instead of {}",
                    nudge.value,
                    effect(side),
                    nudge.failures.words(),
                    self.failures.count()
                )
            }
            Hold::End(because, back) => format!(
                "{field} stands at the end of its range, {value}: {because}; {} costs {:.1} ms",
                back.value,
                ms(back)
            ),
            Hold::Unsure(side, nudge) => format!(
                "{field} from {value} to {}{}: {:.1} ms faster, and with {} of {} instead of {} too \
                 few fail to tell; faster settings than those found were refused on fresh trials, or \
                 never tried",
                nudge.value,
                effect(side),
                ms(nudge),
                nudge.failures.count(),
                nudge.failures.trials(),
                self.failures.count()
            ),
        })
    }
}

/// What keeps settings from being faster, sentences without full stops, what binds first in
/// front.
pub(crate) fn ranked(limits: &[TuneLimit]) -> Vec<String> {
    let staked = |limit: &TuneLimit| Some((limit.stake_s()?, limit.sentence()?));
    let mut all: Vec<(f64, String)> = limits.iter().filter_map(staked).collect();
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.into_iter().map(|(_, sentence)| sentence).collect()
}

/// Why a knob's range ends where the found settings stand; `None` where it does not, or
/// where going on would change nothing.
fn end(knob: &Knob, field: &Field<'_>, chosen: &Candidate, at: f64, side: usize) -> Option<String> {
    let there = if side == 0 { at < 0.25 * STEP } else { at > 1.0 - 0.25 * STEP };
    if !there {
        return None;
    }
    let beyond = match knob.range {
        // The top of what the set-points come to anyway limits nothing.
        Range::Below(..) if side == 1 => return None,
        Range::Torque if side == 1 => {
            let machine = Machine::of(&chosen.scene);
            let ratio = machine.weakest_shaft_n_m() / machine.axis().limit.torque_n_m();
            let wanted = field.target.static_safety_ratio;
            return Some(if ratio < 1.01 * wanted {
                format!("the shafts allow no more at a safety factor of {wanted}")
            } else {
                let voltage = chosen.scene.file().drive.bus_voltage_v;
                format!("the drive gives no more at {voltage} V, and the shafts would stand it")
            });
        }
        Range::Linear(low, _) if side == 0 && low == 0.0 && knob.field == MARGIN => {
            return Some("with less, pieces would push each other aside".to_owned());
        }
        Range::Linear(low, high) | Range::Below(low, high) => {
            let by = 0.1 * (high - low);
            if side == 0 { low - by } else { high + by }
        }
        Range::Ratio(low, high) => {
            if side == 0 {
                0.9 * low
            } else {
                1.1 * high
            }
        }
        _ => return Some("no more was allowed".to_owned()),
    };
    let more = field.scene.with(&knob.field, beyond.into()).is_ok();
    Some(if more { "--allow can widen it" } else { "no scene goes further" }.to_owned())
}

/// Moves each number among the knobs; `None` where it was broken off.
pub(crate) fn limits(field: &Field<'_>, chosen: &Candidate) -> Option<Vec<TuneLimit>> {
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
        found.push(TuneLimit {
            field: knob.field.clone(),
            value: knob.value_in(&chosen.scene),
            failures: centre.failures(),
            nudges,
            at_end: [0, 1].map(|side| end(knob, field, chosen, at, side)),
        });
    }
    Some(found)
}
