//! How documents become text, and what stands for a text: its SHA-256.

use dryturn_scene::Scene;
use serde::Serialize;
use serde_json::Value as Json;
use sha2::{Digest, Sha256};

/// As JSON, keys in alphabetical order.
///
/// # Panics
/// Never for types whose maps have texts for keys: each has a form as JSON.
#[must_use]
pub fn json(value: &impl Serialize) -> Json {
    serde_json::to_value(value).unwrap_or_else(|error| unreachable!("{error}"))
}

/// As a file holds it, several lines.
#[must_use]
pub fn json_text(value: &impl Serialize) -> String {
    format!("{:#}\n", json(value))
}

/// A number that JSON can hold.
#[must_use]
pub fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// SHA-256 in hexadecimal (FIPS 180-4).
#[must_use]
pub fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// SHA-256 of a scene as used, every field written out.
#[must_use]
pub fn scene_sha256(scene: &Scene) -> String {
    digest(scene.identity().as_bytes())
}
