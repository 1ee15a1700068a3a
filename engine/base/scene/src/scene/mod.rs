//! A scene that has passed every check.

mod change;
mod draft;
mod lit;
mod starter;

use core::fmt;
use std::sync::Arc;

use draft::Draft;

use crate::check::{can_be_drawn, check_places, check_values};
use crate::curves::{self, CurveTable, Curves, Files, NoFiles};
use crate::drawing::{Rig, View};
use crate::fault::{Fault, SceneError};
use crate::file::SceneFile;
use crate::light::Shading;

pub use starter::{STARTER, starter};

/// A valid scene: the file's values, the cameras as drawn and the rig's solids.
pub struct Scene {
    file: SceneFile,
    source_name: String,
    views: Vec<View>,
    rig: Rig,
    shading: Shading,
    curves: Curves,
    files: Arc<dyn Files>,
}

impl fmt::Debug for Scene {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Scene").field("source_name", &self.source_name).finish_non_exhaustive()
    }
}

impl Scene {
    /// Reads a scene that names no other files. `source_name` is what messages call
    /// it.
    ///
    /// # Errors
    /// All faults, each with its line and column, its field and what is allowed; where
    /// brackets, quotes or commas do not fit, the first such place alone.
    pub fn parse(text: &str, source_name: &str) -> Result<Self, SceneError> {
        Self::load(text, source_name, Arc::new(NoFiles))
    }

    /// Reads a scene; `files` has the files that it names.
    ///
    /// # Errors
    /// As with [`Scene::parse`], and faults in those files.
    pub fn load(text: &str, source_name: &str, files: Arc<dyn Files>) -> Result<Self, SceneError> {
        let draft = Draft::read(text).map_err(|error| Fault::Syntax {
            source_name: source_name.to_owned(),
            line: error.span.start.line,
            column: error.span.start.col,
            message: format!("{}{}", error.code, quoted_line(text, error.span.start.line)),
        })?;
        Self::build(draft, source_name, files, &Curves::new())
    }

    fn build(
        draft: Draft,
        source_name: &str,
        files: Arc<dyn Files>,
        known: &Curves,
    ) -> Result<Self, SceneError> {
        let Draft { file, mut found, tree, is_scene } = draft;
        let views = check_values(&file, &mut found);
        // Solids can be drawn, and be in each other's way, where their sizes are sound.
        let rig = can_be_drawn(&file, &found).then(|| Rig::of(&file));
        if let Some(rig) = &rig {
            check_places(&file, rig, &mut found);
        }
        let curves = curves::load(&file, &*files, known, &mut found);
        let place_of = |field: &str| tree.as_ref().map(|tree| tree.find(field));
        if let Some(error) = found.into_error(place_of, is_scene, source_name) {
            return Err(error);
        }
        let (Some(views), Some(rig)) = (views, rig) else {
            unreachable!("a scene without faults has cameras and solids");
        };
        let shading = Shading::of(&rig, &file.lamps);
        let source_name = source_name.to_owned();
        Ok(Self { file, source_name, views, rig, shading, curves, files })
    }

    /// The same scene with other values in its file.
    ///
    /// # Errors
    /// Every value that is wrong, with its field and allowed range.
    pub fn with_file(&self, file: SceneFile) -> Result<Self, SceneError> {
        Self::build(Draft::of(file), &self.source_name, self.files.clone(), &self.curves)
    }

    /// The same scene whose cameras have another number of pixels on the same sensors.
    ///
    /// # Errors
    /// Sensors that no camera may have.
    pub fn with_pixels(&self, size_px: [u32; 2]) -> Result<Self, SceneError> {
        let mut file = self.file.clone();
        file.cameras.iter_mut().for_each(|camera| *camera = camera.with_pixels(size_px));
        self.with_file(file)
    }

    /// The same scene under another name in messages.
    #[must_use]
    pub fn renamed(&self, source_name: &str) -> Self {
        // What has passed every check passes them again.
        Self::build(Draft::of(self.file.clone()), source_name, self.files.clone(), &self.curves)
            .expect("the scene was valid before")
    }

    /// A table that the scene names, by its path.
    #[must_use]
    pub fn curve(&self, path: &str) -> Option<&CurveTable> {
        self.curves.get(path).map(|table| &**table)
    }

    /// All tables that the scene names, with their paths.
    pub fn curves(&self) -> impl Iterator<Item = (&str, &CurveTable)> {
        self.curves.iter().map(|(path, table)| (&**path, &**table))
    }

    /// How the lights fall on the cube.
    pub(crate) fn shading(&self) -> &Shading {
        &self.shading
    }

    /// The file's values.
    #[must_use]
    pub fn file(&self) -> &SceneFile {
        &self.file
    }

    /// What messages call the file.
    #[must_use]
    pub fn source_name(&self) -> &str {
        &self.source_name
    }

    /// The cameras as drawn, in file order.
    #[must_use]
    pub fn views(&self) -> &[View] {
        &self.views
    }

    /// The solids as drawn.
    #[must_use]
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// The scene as canonical RON: every field, defaults written out.
    #[must_use]
    pub fn to_ron(&self) -> String {
        ron::ser::to_string_pretty(&self.file, ron::ser::PrettyConfig::default())
            .unwrap_or_default()
    }

    /// All that makes the scene what it is: every field, and the tables that it names.
    /// Scenes of equal identity give equal results.
    #[must_use]
    pub fn identity(&self) -> String {
        let tables = self.curves.iter().map(|(path, table)| format!("\n{path}: {table:?}"));
        self.to_ron() + &tables.collect::<String>()
    }
}

/// The line that a syntax error is on, so that the field and value are seen.
fn quoted_line(text: &str, number: usize) -> String {
    let line = text.lines().nth(number.saturating_sub(1)).unwrap_or_default().trim();
    let shown: String = line.chars().filter(|c| !c.is_control()).take(80).collect();
    if shown.is_empty() { shown } else { format!(", in the line `{shown}`") }
}
