//! Colour, projection and radiometry.

mod camera;
mod classes;
mod colour;
mod export;
mod frames;
mod lens_fit;
mod light;
mod margins;
mod rig;

use serde_json::Value as Json;

use super::{Checked, near, numbers, worst};

/// Keys of `expected` that a check compared.
type Keys = &'static [&'static str];

pub(crate) struct Case<'a> {
    id: &'a str,
    input: &'a Json,
    expected: &'a Json,
    group: &'a Json,
    groups: &'a Json,
}

impl Case<'_> {
    fn near(&self, key: &str, found: f64, wanted: f64, relative: f64, absolute: f64) {
        near(self.id, key, found, wanted, relative, absolute);
    }

    fn all_near(&self, key: &str, found: &[f64], relative: f64, absolute: f64) {
        let wanted = numbers(&self.expected[key]);
        assert_eq!(found.len(), wanted.len(), "{}, {key}", self.id);
        for (found, wanted) in found.iter().zip(wanted) {
            self.near(key, *found, wanted, relative, absolute);
        }
    }

    fn has(&self, key: &str) -> bool {
        self.expected.get(key).is_some()
    }

    /// A table of group `colour`, by name and entry.
    fn colour_table(&self, name: &str, entry: &str) -> Vec<f64> {
        numbers(&self.groups["colour"]["tables"][name][entry])
    }
}

pub(crate) fn check(groups: &Json) -> Vec<(String, Checked)> {
    let groups_by_name = groups.as_object().into_iter().flatten();
    groups_by_name.map(|(name, group)| (name.clone(), check_group(name, group, groups))).collect()
}

fn check_group(name: &str, group: &Json, groups: &Json) -> Checked {
    let check: fn(&Case<'_>) -> Keys = match name {
        "colour" => colour::tristimulus_values,
        "cct" => colour::temperatures,
        "camera_rgb" => colour::camera_rgb,
        "ciede2000" => colour::differences,
        "srgb_transfer" => colour::srgb_transfer,
        "projection" => camera::projection,
        "sensor" => camera::sensor,
        "bayer" => camera::bayer,
        "closed_form" => camera::closed_form,
        "lens_fit" => lens_fit::lens,
        "mount_fit" => lens_fit::mount,
        "lamp" => light::lamp,
        "radiance" => light::radiance,
        "furnace" => light::furnace,
        "image" => frames::image,
        "rig_frame" => rig::frame,
        "rig_grain" => rig::grain,
        "classify" => classes::classify,
        "normal_tail" => margins::normal_tails,
        "mistaken" => margins::mistaken,
        "linear_assignment" => classes::assignment,
        _ => return Checked::NotYet { cases: group["cases"].as_array().map_or(0, Vec::len) },
    };
    worst();
    let mut left = Vec::new();
    let cases = group["cases"].as_array().cloned().unwrap_or_default();
    for case in &cases {
        let (input, expected) = (&case["input"], &case["expected"]);
        let id = case["id"].as_str().unwrap_or("?");
        let compared = check(&Case { id, input, expected, group, groups });
        let keys = expected.as_object().into_iter().flatten().map(|(key, _)| key.clone());
        left.extend(keys.filter(|key| !compared.contains(&key.as_str())));
    }
    left.sort();
    left.dedup();
    Checked::All { cases: cases.len(), keys_left: left, worst: worst() }
}
