//! What may be tuned, and within which range.

use dryturn_driving::Machine;
use dryturn_scene::file::{Policy, Profile};
use dryturn_scene::{Scene, SceneError};
use dryturn_units::maths;
use serde_json::Value as Json;

use crate::frame_set::Variation;

/// Below this share of the torque that is allowed, nothing is tried.
const LEAST_TORQUE_SHARE: f64 = 0.5;

/// From here on a torque limit is as good as the one that is there.
const ALL_BUT: f64 = 0.998;

/// How a number between 0 and 1 becomes a value.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Range {
    /// Equal steps.
    Linear(f64, f64),
    /// Equal ratios.
    Ratio(f64, f64),
    /// Equal steps below a limit, at the top of which the field stays as it is.
    Below(f64, f64),
    /// One of several names.
    Choice(&'static [&'static str]),
    /// A torque limit: from half of what drive and shafts allow to all of it.
    Torque,
}

/// One field that may be tuned, or the same field of all six shafts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Knob {
    /// Dotted path; `shafts.*` is all six.
    pub(crate) field: String,
    pub(crate) range: Range,
    /// The policy under which it matters.
    only: Option<&'static str>,
}

/// The hand-over policies by name.
pub(crate) const POLICIES: &[&str] = &["Settle", "Release", "Predict"];
const POLICY: &str = "handover.policy";
const TORQUE: &str = "drive.torque_limit_n_m";

fn knob(field: &str, range: Range, only: Option<&'static str>) -> Knob {
    Knob { field: field.to_owned(), range, only }
}

/// What is tuned of every scene: policy and its margin, gains, limits of speed and torque.
pub(crate) fn usual(scene: &Scene) -> Vec<Knob> {
    use Range::{Choice, Linear, Ratio, Torque};
    let drive = &scene.file().drive;
    let mut knobs = vec![
        knob(POLICY, Choice(POLICIES), None),
        knob("handover.clearance_margin_deg", Linear(-8.0, 0.6), Some("Predict")),
        knob("handover.release_angle_deg", Ratio(1.0, 40.0), Some("Release")),
        knob("controller.speed_gain_per_s", Ratio(300.0, 3000.0), None),
        knob("controller.position_gain_per_s", Ratio(60.0, 800.0), None),
        knob("controller.speed_integral_per_s", Ratio(20.0, 1000.0), None),
        knob("controller.friction_feed_forward_ratio", Linear(0.6, 1.4), None),
        knob("controller.wind_up_compensation_ratio", Linear(0.0, 1.0), None),
        knob("controller.hold_torque_share", Linear(0.1, 1.0), None),
        knob(TORQUE, Torque, None),
    ];
    match drive.profile {
        Profile::MinimumTime | Profile::BangBang => {
            knobs.push(knob("drive.planned_torque_share", Linear(0.7, 1.0), None));
        }
        Profile::Trapezoid | Profile::SCurve => {
            let rate = drive.acceleration_limit_rad_s2;
            let range = Ratio(0.5 * rate, (2.0 * rate).min(1e6));
            knobs.push(knob("drive.acceleration_limit_rad_s2", range, None));
        }
    }
    // Higher than this the set-points do not go anyway.
    let highest = Machine::of(scene).highest_speed_rad_s().min(drive.speed_limit_rad_s);
    knobs.push(knob("drive.speed_limit_rad_s", Range::Below(0.6 * highest, highest), None));
    knobs
}

/// A field that the builder allows, beside or instead of the usual ones.
pub(crate) fn allowed(variation: &Variation) -> Knob {
    knob(&variation.path, Range::Linear(variation.low, variation.high), None)
}

impl Knob {
    /// The paths that it sets.
    fn paths(&self) -> Vec<String> {
        match self.field.strip_prefix("shafts.*.") {
            Some(field) => (0..6).map(|i| format!("shafts.{i}.{field}")).collect(),
            None => vec![self.field.clone()],
        }
    }

    /// Whether the range's ends are allowed by the scene, each by itself.
    pub(crate) fn check(&self, scene: &Scene) -> Result<(), SceneError> {
        let (Range::Linear(low, high) | Range::Ratio(low, high)) = self.range else {
            return Ok(());
        };
        for value in [low, high] {
            for path in self.paths() {
                scene.with(&path, value.into())?;
            }
        }
        Ok(())
    }

    /// Its value in a scene, as text; of a torque limit what counts, be it set or the
    /// drive's.
    pub(crate) fn value_in(&self, scene: &Scene) -> String {
        if self.range == Range::Torque {
            return rounded(Machine::of(scene).axis().limit.torque_n_m()).to_string();
        }
        let whole = serde_json::to_value(scene.file()).unwrap_or_default();
        let value = self.paths()[0].split('.').try_fold(&whole, |at, word| match at {
            Json::Array(items) => items.get(word.parse::<usize>().ok()?),
            at => at.get(word),
        });
        match value {
            Some(Json::String(text)) => text.clone(),
            Some(Json::Number(number)) => number.to_string(),
            // What is left out has the value that it follows to be.
            Some(Json::Null) => {
                let derived = scene.file().derived();
                let own = derived.iter().find(|d| d.field == Some(self.field.as_str()));
                own.map_or_else(String::new, |d| d.value.to_string())
            }
            _ => String::new(),
        }
    }

    /// Where the scene's own value lies in the range, 0 to 1.
    pub(crate) fn place_in(&self, scene: &Scene) -> f64 {
        let text = self.value_in(scene);
        let value: f64 = text.parse().unwrap_or(0.0);
        let place = match self.range {
            Range::Linear(low, high) | Range::Below(low, high) => {
                (value - low) / (high - low).max(1e-300)
            }
            Range::Ratio(low, high) => maths::ln(value.max(1e-300) / low) / maths::ln(high / low),
            Range::Choice(names) => {
                let at = names.iter().position(|name| *name == text).unwrap_or(0);
                (at as f64 + 0.5) / names.len() as f64
            }
            Range::Torque => 1.0,
        };
        place.clamp(0.0, 1.0)
    }
}

/// Why no scene comes of a point.
#[derive(Clone, Debug)]
pub(crate) enum NoScene {
    /// The shafts allow less torque than the layers need.
    Weak {
        /// What they allow, N·m.
        allowed_n_m: f64,
        /// What is needed, N·m.
        needed_n_m: f64,
    },
    /// The scene does not allow it.
    Refused,
}

/// The tuned scene at a point of the unit cube, one number for each knob.
pub(crate) fn scene_at(
    scene: &Scene,
    knobs: &[Knob],
    point: &[f64],
    safety_ratio: f64,
) -> Result<Scene, NoScene> {
    let mut changes: Vec<(String, Json)> = Vec::new();
    let mut torque_share = None;
    let mut policy = policy_name(scene.file().handover.policy);
    for (knob, &at) in knobs.iter().zip(point) {
        let value = match knob.range {
            Range::Linear(low, high) => Json::from(rounded(low + (high - low) * at)),
            Range::Ratio(low, high) => {
                Json::from(rounded(low * maths::exp(maths::ln(high / low) * at)))
            }
            Range::Below(_, _) if at >= 1.0 => continue,
            Range::Below(low, high) => Json::from(rounded(low + (high - low) * at)),
            Range::Choice(names) => {
                let index = ((at * names.len() as f64) as usize).min(names.len() - 1);
                policy = names[index];
                Json::from(names[index])
            }
            Range::Torque => {
                torque_share = Some(LEAST_TORQUE_SHARE + (1.0 - LEAST_TORQUE_SHARE) * at);
                continue;
            }
        };
        // What does not matter stays as it is.
        if knob.only.is_none_or(|only| only == policy) {
            changes.extend(knob.paths().into_iter().map(|path| (path, value.clone())));
        }
    }
    let changes: Vec<(&str, Json)> =
        changes.iter().map(|(path, value)| (path.as_str(), value.clone())).collect();
    let changed = scene.with_all(&changes).map_err(|_| NoScene::Refused)?;
    let machine = Machine::of(&changed);
    let limit_n_m = machine.axis().limit.torque_n_m();
    let allowed_n_m = machine.weakest_shaft_n_m() / safety_ratio;
    let Some(share) = torque_share else {
        // The limit is not to be touched.
        let weak = NoScene::Weak { allowed_n_m, needed_n_m: limit_n_m };
        return if allowed_n_m < limit_n_m { Err(weak) } else { Ok(changed) };
    };
    let wanted_n_m = allowed_n_m.min(limit_n_m) * share;
    if wanted_n_m >= ALL_BUT * limit_n_m {
        return Ok(changed);
    }
    let needed_n_m = needed_n_m(&machine, &changed);
    let lowered = changed.with(TORQUE, Json::from(rounded_down(wanted_n_m)));
    lowered.map_err(|_| {
        let weak = allowed_n_m < limit_n_m;
        if weak { NoScene::Weak { allowed_n_m, needed_n_m } } else { NoScene::Refused }
    })
}

/// Torque that a drive needs at least to turn a layer: the scene's own check asks for
/// friction and 5 % of the planned share.
fn needed_n_m(machine: &Machine, scene: &Scene) -> f64 {
    1.05 * machine.axis().limit.friction_n_m / scene.file().drive.planned_torque_share
}

/// To four figures: settings are typed by hand.
fn rounded(value: f64) -> f64 {
    let text = format!("{value:.3e}");
    text.parse().unwrap_or(value)
}

/// To four figures, never up: a limit stays a limit.
fn rounded_down(value: f64) -> f64 {
    let near = rounded(value);
    if near <= value { near } else { rounded(value * (1.0 - 1e-3)) }
}

/// The policy of a scene, as the choice is written.
pub(crate) fn policy_name(policy: Policy) -> &'static str {
    match policy {
        Policy::Settle => POLICIES[0],
        Policy::Release => POLICIES[1],
        Policy::Predict => POLICIES[2],
    }
}
