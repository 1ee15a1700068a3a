//! Scenes for the crate's own tests.

use dryturn_scene::Scene;
use serde_json::Value;

/// The workbench with other settings.
pub(crate) fn workbench(changes: &[(&str, Value)]) -> Scene {
    let text = include_str!("../../../../scenes/workbench.ron");
    let scene = Scene::parse(text, "workbench.ron").unwrap();
    changes.iter().fold(scene, |scene, (path, value)| scene.with(path, value.clone()).unwrap())
}
