//! Scene files and the tables that they name.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use dryturn_scene::{Files, Scene};

use crate::files::text;

/// The files beside a scene: paths are relative to its folder.
struct Folder(PathBuf);

impl Files for Folder {
    fn text(&self, path: &str) -> Result<String, String> {
        text(&self.0.join(path))
    }
}

/// A scene file with the tables that it names.
///
/// # Errors
/// A line for each fault, in the order of the file: each names the file, and the line,
/// field, value and what is allowed where a value is wrong.
pub fn scene(path: &Path) -> Result<Scene, Vec<String>> {
    let folder = path.parent().map(Path::to_owned).unwrap_or_default();
    let name = path.display().to_string();
    let text = text(path).map_err(|fault| vec![fault])?;
    Scene::load(&text, &name, Arc::new(Folder(folder)))
        .map_err(|error| error.faults().iter().map(ToString::to_string).collect())
}
