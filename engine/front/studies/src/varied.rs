//! What varies, as documents hold it.

use dryturn_scene::{Values, Variation};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;

/// A field, or several that take one value, and the values that it may take: a list, or a range.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Varied {
    /// Path of the field, or fields, in the scene.
    pub field: String,
    /// The values of a list; absent of a range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub values: Option<Vec<Json>>,
    /// Lower end of a range; absent of a list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// Upper end of a range; absent of a list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
    /// Whether the ends are factors on what stands there; absent where they are not.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub times: bool,
}

impl Varied {
    /// Of a variation.
    #[must_use]
    pub fn of(variation: &Variation) -> Self {
        let plain = Self {
            field: variation.path.clone(),
            values: None,
            low: None,
            high: None,
            times: false,
        };
        match &variation.values {
            Values::Listed(values) => Self { values: Some(values.clone()), ..plain },
            Values::Between { low, high, times } => {
                Self { low: Some(*low), high: Some(*high), times: *times, ..plain }
            }
        }
    }
}
