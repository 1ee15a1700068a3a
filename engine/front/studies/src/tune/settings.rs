//! What tuning has changed in a scene.

use dryturn_scene::{Place, Scene};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;

use super::knobs::Knob;
use super::outcome::Tuned;
use super::words;

/// A setting before and after.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Setting {
    /// The field, or fields that took one value.
    pub field: String,
    /// Its value before.
    pub before: String,
    /// Its value after.
    pub after: String,
}

impl Setting {
    /// What the change does to the rig, in a builder's words; no full stop.
    #[must_use]
    pub fn says(&self) -> String {
        words::change(&self.field, &self.before, &self.after)
    }

    /// The change and what it does, one sentence without a full stop.
    #[must_use]
    pub fn sentence(&self) -> String {
        format!("{} = {} instead of {}: {}", self.field, self.after, self.before, self.says())
    }
}

pub(crate) fn settings(before: &Scene, after: &Scene, knobs: &[Knob]) -> Vec<Setting> {
    let setting = |knob: &Knob| Setting {
        field: knob.field.clone(),
        before: knob.value_in(before),
        after: knob.value_in(after),
    };
    knobs.iter().map(setting).filter(|setting| setting.before != setting.after).collect()
}

impl Tuned {
    /// The changed fields as blocks of a scene file, to be put into those that are there.
    #[must_use]
    pub fn blocks(&self) -> String {
        let mut text = String::new();
        let places = |setting: &Setting| self.scene.places(&setting.field).unwrap_or_default();
        for block in ["handover", "controller", "drive", "cube", "supply"] {
            let own = |place: Place| {
                let (of, field) = place.path.split_once('.')?;
                (of == block).then(|| format!("    {field}: {},\n", written(&place.value)))
            };
            let fields: String = self.settings.iter().flat_map(places).filter_map(own).collect();
            if !fields.is_empty() {
                text += &format!("{block}: (\n{fields}),\n");
            }
        }
        for setting in self.settings.iter().filter(|setting| setting.field.starts_with("shafts.")) {
            match setting.field.strip_prefix("shafts.*.") {
                Some(field) if !setting.after.contains(',') && !field.contains('+') => {
                    text += &format!("// of shafts, each: {field}: {},\n", setting.after);
                }
                _ => text.extend(places(setting).iter().filter_map(|place| {
                    let (which, field) = place.path.strip_prefix("shafts.")?.split_once('.')?;
                    Some(format!("// of shafts, {which}: {field}: {},\n", written(&place.value)))
                })),
            }
        }
        text
    }
}

/// A number, a choice or a switch as a scene file has it.
fn written(value: &Json) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}
