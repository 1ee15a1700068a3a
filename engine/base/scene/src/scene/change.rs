//! A scene with other values in its fields.

use serde_json::Value as Json;

use super::Scene;
use crate::block::Value as _;
use crate::fault::{Fault, SceneError};
use crate::file::{Preset, SceneFile, Tension};
use crate::names::{self, Place};

impl Scene {
    /// The same scene with one value changed, as a person writes it: a number, `true`,
    /// `false`, a list in square brackets, the name of a choice, or `x1.5` for 1.5 times what
    /// stands there.
    ///
    /// # Errors
    /// As [`Scene::with`].
    pub fn with_text(&self, path: &str, text: &str) -> Result<Self, SceneError> {
        match text.parse::<f64>() {
            // NaN and infinities are in no range, nor is the greatest of all numbers: its
            // refusal names what is.
            Ok(number) if !number.is_finite() => {
                self.with(path, Json::from(f64::MAX)).map_err(|error| error.about(text))
            }
            _ => self.with(path, names::value(text)),
        }
    }

    /// The same scene with one value changed. `path` is dotted; a list is
    /// entered by number from 0, by the name (or face) of its block, or by `*` for all of
    /// them; several paths that take the value together are joined by `+`:
    /// `lamps.window.flux_lm`, `shafts.*.width_mm`,
    /// `lamps.upper.spectrum+lamps.lower.spectrum`. A preset
    /// (`drive.preset`, `cube.tension`) brings its own figures with it. The text `x1.5` is
    /// 1.5 times the number that stands there.
    ///
    /// # Errors
    /// A path that leads nowhere, or a value that the scene does not allow.
    pub fn with(&self, path: &str, value: Json) -> Result<Self, SceneError> {
        self.with_all(&[(path, value)])
    }

    /// The same scene with several values changed, one after the other; what they come to
    /// together is checked once.
    ///
    /// # Errors
    /// As [`Scene::with`].
    pub fn with_all(&self, changes: &[(&str, Json)]) -> Result<Self, SceneError> {
        let mut file = self.file.clone();
        for (path, value) in changes {
            file = self.changed(&file, path, value)?;
        }
        self.with_file(file)
    }

    /// The fields that a path leads to, with their values; the path as with
    /// [`Scene::with`].
    ///
    /// # Errors
    /// A path that leads nowhere.
    pub fn places(&self, path: &str) -> Result<Vec<Place>, SceneError> {
        let no_field = |reason| self.no_field(path, reason);
        let whole =
            serde_json::to_value(&self.file).map_err(|error| no_field(error.to_string()))?;
        names::places(&whole, path).map_err(no_field)
    }

    fn no_field(&self, path: &str, reason: String) -> SceneError {
        let (source_name, field) = (self.source_name.clone(), path.to_owned());
        Fault::NoSuchField { source_name, field, reason }.into()
    }

    fn changed(&self, file: &SceneFile, path: &str, value: &Json) -> Result<SceneFile, SceneError> {
        let no_field = |reason| self.no_field(path, reason);
        let mut whole = serde_json::to_value(file).map_err(|error| no_field(error.to_string()))?;
        let places = names::places(&whole, path).map_err(no_field)?;
        for Place { pointer, value: old, .. } in &places {
            if let Some(place) = whole.pointer_mut(pointer) {
                *place = names::put(old, value);
            }
            match pointer.as_str() {
                "/drive/preset" => leave_out(&mut whole, "drive", &Preset::GOVERNS),
                "/cube/tension" => leave_out(&mut whole, "cube", &Tension::GOVERNS),
                _ => {}
            }
        }
        let fault = |_| {
            let shape = SceneFile::shape();
            let first = places.first();
            let allowed = first.and_then(|place| shape.allowed_at(&place.pointer));
            let allowed = allowed.unwrap_or("of the field's own kind");
            let whole = first.is_some_and(|place| place.value.is_i64() || place.value.is_u64());
            Fault::Value {
                source_name: self.source_name.clone(),
                place: None,
                field: path.to_owned(),
                value: value.to_string(),
                allowed: if whole {
                    format!("a whole number, {allowed}")
                } else {
                    allowed.to_owned()
                },
            }
        };
        Ok(serde_json::from_value(whole).map_err(fault)?)
    }
}

/// Takes fields out of the block that a preset belongs to, so that they start from it.
fn leave_out(whole: &mut Json, block: &str, governed: &[&str]) {
    if let Some(fields) = whole.get_mut(block).and_then(Json::as_object_mut) {
        governed.iter().for_each(|field| drop(fields.remove(*field)));
    }
}
