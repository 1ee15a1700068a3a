//! Who is there.

use dryturn_handoff::GuestRole;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::fields::{Answer, Fields};
use crate::fault::FaultKind;
use crate::visible::visible;

/// The version of the protocol.
pub const PROTOCOL: u32 = 1;

/// Longest name and version of a guest, characters.
const LONGEST: usize = 80;

/// The first question.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub(crate) struct Hello {
    /// The version of the protocol, 1.
    pub(crate) protocol: u32,
    /// The part that the guest is to play.
    pub(crate) role: GuestRole,
}

/// Its answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Introduction {
    /// The version that the guest speaks, 1.
    pub(crate) protocol: u32,
    /// What it is called; 1 to 80 characters.
    #[schemars(length(min = 1, max = 80))]
    pub(crate) name: String,
    /// Its own version; at most 80 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) version: Option<String>,
}

impl Answer for Introduction {
    fn of(result: Value) -> Result<Self, FaultKind> {
        let mut fields = Fields::of(result)?;
        let protocol = fields.required("protocol", "1", |value| Some(value.clone()))?;
        if protocol.as_u64() != Some(u64::from(PROTOCOL)) {
            return Err(FaultKind::WrongVersion { got: visible(&protocol.to_string(), 20) });
        }
        let short = |value: &Value| {
            let text = value.as_str().filter(|text| text.chars().count() <= LONGEST)?;
            Some(visible(text, LONGEST))
        };
        let named = |value: &Value| short(value).filter(|name| !name.trim().is_empty());
        let name = fields.required("name", "text of 1 to 80 characters", named)?;
        let version = fields.optional("version", "text of at most 80 characters", short)?;
        fields.end()?;
        Ok(Self { protocol: PROTOCOL, name, version })
    }
}
