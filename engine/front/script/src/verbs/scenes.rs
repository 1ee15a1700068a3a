//! Loading scenes and changing them.

use std::sync::Arc;

use dryturn_record::ledger::{Line, SceneLine};
use dryturn_scene::{Files, Scene};
use rhai::plugin::export_module;
use rhai::{Dynamic, NativeCallContext};
use serde_json::Value as Json;

use super::begin;
use crate::session::{Fallible, Host, Session, fault};
use crate::values::arguments::{ok, within};
use crate::values::handles::SceneValue;
use crate::values::texts::text_of;

/// A script's value as JSON, for a field of a scene.
fn to_json(value: &Dynamic) -> Fallible<Json> {
    if let Ok(int) = value.as_int() {
        Ok(Json::from(int))
    } else if let Ok(float) = value.as_float() {
        serde_json::Number::from_f64(float).map_or_else(
            || fault(format!("{float} is no number that a field can hold")),
            |n| Ok(Json::Number(n)),
        )
    } else if let Ok(flag) = value.as_bool() {
        Ok(Json::Bool(flag))
    } else if value.is_string() {
        Ok(Json::String(value.to_string()))
    } else if let Some(list) = value.read_lock::<rhai::Array>() {
        list.iter().map(to_json).collect::<Fallible<Vec<Json>>>().map(Json::Array)
    } else {
        fault(format!(
            "a field holds a number, text, true, false or a list, not {}",
            value.type_name()
        ))
    }
}

/// The files that a scene names, relative to its own folder.
struct BesideScene {
    host: Arc<dyn Host>,
    scene: String,
}

impl Files for BesideScene {
    fn text(&self, path: &str) -> Result<String, String> {
        if path.starts_with(['/', '\\']) {
            return Err(format!("{path}: an absolute path: must be relative to the scene"));
        }
        let folder = self.scene.rsplit_once('/').map_or("", |(folder, _)| folder);
        let path = if folder.is_empty() { path.to_owned() } else { format!("{folder}/{path}") };
        self.host.read_text(&path)
    }
}

/// A scene that came to be is a line of the ledger.
pub(super) fn kept(session: &Session, scene: Scene) -> SceneValue {
    session.log(Line::Scene(SceneLine::of(&scene)));
    SceneValue(Arc::new(scene))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Loads a scene file, with the tables that it names.
    ///
    /// * `path` - text, relative to the script's own folder
    ///
    /// Gives the scene.
    ///
    /// ```rhai
    /// let evening = scene("../scenes/foyer_evening.ron");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn scene(context: NativeCallContext, path: &str) -> Fallible<SceneValue> {
        let s = begin(&context, None)?;
        let text = ok(s.host.read_text(path))?;
        let files = BesideScene { host: s.host.clone(), scene: path.to_owned() };
        let scene = ok(Scene::load(&text, path, Arc::new(files)).map_err(|e| e.discreet()))?;
        Ok(kept(&s, scene))
    }

    /// The scene with one value changed, or the same value of several lamps, shafts and so on.
    /// [How fields are named](../scenes/README.md#how-fields-are-named) is the same everywhere.
    ///
    /// * `scene` - the scene as it is; it stays as it is
    /// * `path` - text, the field: `"lamps.window.flux_lm"`, `"shafts.*.width_mm"` (of all six)
    /// * `value` - number, text, true, false or list; `"x0.5"` is half of what each has
    ///
    /// Gives another scene.
    ///
    /// ```rhai
    /// let dark = changed(foyer, "lamps.window.flux_lm", 0);
    /// let narrow = changed(foyer, "shafts.*.width_mm", 5);
    /// let dim = foyer.changed("lamps.*.flux_lm", "x0.5");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn changed(
        context: NativeCallContext,
        scene: SceneValue,
        path: &str,
        value: Dynamic,
    ) -> Fallible<SceneValue> {
        let s = begin(&context, None)?;
        // No field holds more than a text can.
        text_of(&value)?;
        let scene = ok(scene.0.with(path, to_json(&value)?))?;
        Ok(kept(&s, scene))
    }

    /// The scene with so many pixels on the same sensors: fewer are larger, hold more and have
    /// less noise.
    ///
    /// * `scene` - the scene as it is; it stays as it is
    /// * `width` - whole number, pixels of a row, 64 to 4096
    /// * `height` - whole number, rows, 64 to 4096
    ///
    /// Gives another scene.
    ///
    /// ```rhai
    /// let coarse = resized(foyer, 320, 240);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn resized(
        context: NativeCallContext,
        scene: SceneValue,
        width: i64,
        height: i64,
    ) -> Fallible<SceneValue> {
        let s = begin(&context, None)?;
        let side = |what, value| within(what, value, 64..=4096).map(|side| side as u32);
        let size = [side("the width", width)?, side("the height", height)?];
        let scene = ok(scene.0.with_pixels(size))?;
        Ok(kept(&s, scene))
    }

    /// The scene's name.
    #[rhai_fn(get = "name", pure)]
    pub(crate) fn scene_name(scene: &mut SceneValue) -> String {
        scene.0.file().name.clone()
    }
}
