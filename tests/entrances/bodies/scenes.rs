//! Scene files, and values of their fields as `--set`, `--vary` and `--compare` take them.

use std::sync::Arc;

use dryturn_scene::{Files, Place, Scene, SceneError, Values, Variation};
use serde_json::Value as Json;

use super::common::{DRAWN, looked_at, rarely, refused, text_of};
use super::tables::{PIGMENTS, POWER, SENSOR};

/// The tables that lie beside a scene.
struct Beside;

impl Files for Beside {
    fn text(&self, path: &str) -> Result<String, String> {
        let tables = [("pigments.csv", PIGMENTS), ("sensor.csv", SENSOR), ("power.csv", POWER)];
        let found = tables.into_iter().find(|(name, _)| *name == path);
        found.map(|(_, text)| text.to_owned()).ok_or_else(|| format!("{path}: no such file"))
    }
}

fn load(text: &str) -> Result<Scene, SceneError> {
    Scene::load(text, "scene.ron", Arc::new(Beside))
}

/// What is written of a scene reads as the same scene.
fn written_again(scene: &Scene) {
    let text = scene.to_ron();
    let again = load(&text);
    let again = again.unwrap_or_else(|error| panic!("written, it is refused: {error}\n{text}"));
    assert_eq!(again.file(), scene.file(), "written, it is another scene");
    assert_eq!(again.identity(), scene.identity(), "written, it has another identity");
}

/// A scene file: what `check` and all other commands read. A few are looked at as `check` does.
pub fn scene(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    match load(text) {
        Ok(scene) => {
            written_again(&scene);
            assert!(scene.file().derived().iter().all(|figure| figure.value.is_finite()));
            if rarely(bytes, 512) {
                looked_at(&scene);
            }
            true
        }
        Err(error) => {
            refused(&error);
            false
        }
    }
}

/// `FIELD=VALUE` or `FIELD=VALUES`, read in each of the ways in which flags and scripts read it.
pub fn setting(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    if let Some(Variation { path, values }) = Variation::parse(text) {
        ends(&values);
        // A long list takes a scene for each.
        for value in values.ends().into_iter().take(8) {
            match DRAWN.with(&path, value) {
                Ok(scene) => written_again(&scene),
                Err(error) => refused(&error),
            }
        }
    }
    let Some((field, value)) = text.split_once('=') else { return false };
    if let Some(values) = Values::parse(value) {
        ends(&values);
    }
    let before = DRAWN.places(field);
    match DRAWN.with_text(field, value) {
        Ok(scene) => {
            // A list's item that was given another name is not found by the old one.
            if let (Ok(before), Ok(after)) = (before, scene.places(field)) {
                stands_there(value, &before, &after);
            }
            written_again(&scene);
            true
        }
        Err(error) => {
            refused(&error);
            false
        }
    }
}

/// A range of numbers gives numbers.
fn ends(values: &Values) {
    let drawn = [0.0, 0.37, 0.999_999].map(|place| values.at(place));
    let ends = values.ends();
    assert!(!ends.is_empty());
    match values {
        Values::Listed(list) => {
            assert!(drawn.iter().chain(&ends).all(|value| list.contains(value)));
        }
        Values::Between { times: false, .. } => {
            let numbers = drawn.iter().chain(&ends).all(Json::is_number);
            assert!(numbers, "{values:?} gives {drawn:?}, {ends:?}");
        }
        Values::Between { times: true, .. } => {
            assert!(drawn.iter().chain(&ends).all(Json::is_string));
        }
    }
}

/// What was asked for is what a field then holds: a number, or a number that many times as large.
fn stands_there(value: &str, before: &[Place], after: &[Place]) {
    let value = value.trim();
    let asked = value.parse::<f64>().ok().filter(|asked| asked.is_finite());
    let factor = value.strip_prefix('x').and_then(|factor| factor.parse::<f64>().ok());
    for (before, after) in before.iter().zip(after) {
        if let Some(asked) = asked {
            assert_eq!(after.value.as_f64(), Some(asked), "{value} at {}", after.path);
        }
        if factor.is_some() && before.value.is_number() {
            assert!(after.value.is_number(), "{value} makes {} {}", after.path, after.value);
        }
    }
}
