//! A scene with what was measured of a real axis.

use dryturn_metrology::motor::Identified;
use dryturn_scene::{Scene, SceneError};

/// What logs of an axis are called in the report.
#[must_use]
pub fn logs_title(logs: usize, scene: &Scene) -> String {
    let plural = if logs == 1 { "" } else { "s" };
    format!("{logs} log{plural}, {}", scene.file().name)
}

/// The scene with the fields of its drive that logs determine.
///
/// # Errors
/// A figure that the scene cannot hold.
pub fn with_measured(scene: &Scene, found: &Identified) -> Result<Scene, SceneError> {
    let drawn = scene.with_file(scene.file().clone())?;
    found.fields.iter().try_fold(drawn, |scene, field| {
        scene.with(&format!("drive.{}", field.name), serde_json::Value::from(field.measured))
    })
}
