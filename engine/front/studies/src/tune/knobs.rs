//! What may be tuned, and within which range.

use dryturn_driving::Machine;
use dryturn_scene::file::{Policy, Profile};
use dryturn_scene::{Place, Scene, Values, Variation};
use dryturn_units::maths;
use serde_json::Value as Json;

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
    /// Equal steps of a factor on what the scene has.
    Times(f64, f64),
    /// One of several values.
    Choice(Vec<Json>),
    /// A torque limit: from half of what drive and shafts allow to all of it.
    Torque,
}

/// One field that may be tuned, or several that take one value together.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Knob {
    /// Its path, as with [`Scene::with`].
    pub(crate) field: String,
    pub(crate) range: Range,
    /// The policy under which it matters.
    only: Option<&'static str>,
}

/// The hand-over policies by name.
const POLICIES: [&str; 3] = ["Settle", "Release", "Predict"];
const POLICY: &str = "handover.policy";
pub(crate) const MARGIN: &str = "handover.clearance_margin_deg";
const TORQUE: &str = "drive.torque_limit_n_m";

fn knob(field: &str, range: Range, only: Option<&'static str>) -> Knob {
    Knob { field: field.to_owned(), range, only }
}

/// What is tuned of every scene: policy and its margin, gains, limits of speed and torque.
pub(crate) fn usual(scene: &Scene) -> Vec<Knob> {
    use Range::{Choice, Linear, Ratio, Torque};
    let drive = &scene.file().drive;
    let mut knobs = vec![
        knob(POLICY, Choice(POLICIES.map(Json::from).to_vec()), None),
        // Below zero pieces push each other aside: only where the builder allows it.
        knob(MARGIN, Linear(0.0, 0.6), Some("Predict")),
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
    let range = match &variation.values {
        Values::Between { low, high, times: false } => Range::Linear(*low, *high),
        Values::Between { low, high, times: true } => Range::Times(*low, *high),
        Values::Listed(values) => Range::Choice(values.clone()),
    };
    // What only one policy asks for stays so.
    let only = match variation.path.as_str() {
        MARGIN => Some("Predict"),
        "handover.release_angle_deg" => Some("Release"),
        _ => None,
    };
    knob(&variation.path, range, only)
}

/// A value as text.
fn text(value: &Json) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

impl Knob {
    /// Whether it chooses the policy; the places of its values, then.
    pub(crate) fn policies(&self) -> Option<&[Json]> {
        match &self.range {
            Range::Choice(values) if self.field == POLICY => Some(values),
            _ => None,
        }
    }

    /// Its value in a scene, as text; of a torque limit what counts, be it set or the
    /// drive's.
    pub(crate) fn value_in(&self, scene: &Scene) -> String {
        if self.range == Range::Torque {
            return rounded(Machine::of(scene).axis().limit.torque_n_m()).to_string();
        }
        let derived = scene.file().derived();
        let value = |place: Place| match &place.value {
            // What is left out has the value that it follows to be.
            Json::Null => {
                let own = derived.iter().find(|d| d.field == Some(place.path.as_str()));
                own.map_or_else(String::new, |d| d.value.to_string())
            }
            value => text(value),
        };
        let places = scene.places(&self.field).unwrap_or_default();
        let mut values: Vec<String> = places.into_iter().map(value).collect();
        // Where all have one value, as they mostly do, it is told once.
        values.dedup();
        values.join(", ")
    }

    /// Where the scene's own value lies in the range, 0 to 1.
    pub(crate) fn place_in(&self, scene: &Scene) -> f64 {
        let now = self.value_in(scene);
        let value: f64 = now.split(", ").next().and_then(|text| text.parse().ok()).unwrap_or(0.0);
        let place = match &self.range {
            Range::Linear(low, high) | Range::Below(low, high) => {
                (value - low) / (high - low).max(1e-300)
            }
            Range::Ratio(low, high) => maths::ln(value.max(1e-300) / low) / maths::ln(high / low),
            Range::Times(low, high) => (1.0 - low) / (high - low).max(1e-300),
            Range::Choice(values) => {
                let is = |other: &Json| {
                    text(other) == now || other.as_f64().is_some_and(|number| number == value)
                };
                let at = values.iter().position(is).unwrap_or(0);
                (at as f64 + 0.5) / values.len() as f64
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
    let chosen = |(knob, at): (&Knob, &f64)| Some(text(choice(knob.policies()?, *at)));
    let policy = knobs.iter().zip(point).find_map(chosen);
    let policy = policy.unwrap_or_else(|| policy_name(scene.file().handover.policy).to_owned());
    for (knob, &at) in knobs.iter().zip(point) {
        // What does not matter stays as it is.
        if knob.only.is_some_and(|only| only != policy) {
            continue;
        }
        let value = match &knob.range {
            Range::Linear(low, high) => Json::from(rounded(low + (high - low) * at)),
            Range::Ratio(low, high) => {
                Json::from(rounded(low * maths::exp(maths::ln(high / low) * at)))
            }
            Range::Below(_, _) if at >= 1.0 => continue,
            Range::Below(low, high) => Json::from(rounded(low + (high - low) * at)),
            Range::Times(low, high) => {
                let factor = low + (high - low) * at;
                for place in scene.places(&knob.field).map_err(|_| NoScene::Refused)? {
                    let value = factor * place.value.as_f64().unwrap_or(0.0);
                    changes.push((place.path, Json::from(rounded(value))));
                }
                continue;
            }
            Range::Choice(values) => choice(values, at).clone(),
            Range::Torque => {
                torque_share = Some(LEAST_TORQUE_SHARE + (1.0 - LEAST_TORQUE_SHARE) * at);
                continue;
            }
        };
        changes.push((knob.field.clone(), value));
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

/// Of several values the one at a place from 0 to 1.
fn choice(values: &[Json], at: f64) -> &Json {
    &values[((at * values.len() as f64) as usize).min(values.len() - 1)]
}

/// Torque that a drive needs at least to turn a layer: the scene's own check asks for
/// friction and 5 % of the planned share.
fn needed_n_m(machine: &Machine, scene: &Scene) -> f64 {
    1.05 * machine.axis().limit.friction_n_m / scene.file().drive.planned_torque_share
}

/// To four figures: settings are typed by hand.
pub(crate) fn rounded(value: f64) -> f64 {
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
