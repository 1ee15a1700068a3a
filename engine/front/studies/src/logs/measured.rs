//! A scene with what was measured of a real axis.

use dryturn_metrology::motor::{Identified, written};
use dryturn_scene::{Scene, SceneError};

use super::words::identified_words;
use crate::cautions::CAUTIONS;

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

/// Lines for the scene's drive block with what was found, what a person should know, and the
/// usual cautions as comment lines above them.
#[must_use]
pub fn measured_block(found: &Identified, warnings: &[String]) -> String {
    let mut notes = identified_words(found);
    notes.extend(warnings.iter().map(|warning| format!("Note: {warning}.")));
    notes.extend(CAUTIONS.iter().map(|caution| format!("CAUTION: {caution}")));
    written(found, &notes)
}
