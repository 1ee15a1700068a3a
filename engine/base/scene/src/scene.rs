//! A scene that has passed every check.

use core::fmt;
use std::sync::Arc;

use dryturn_geometry::{DVec2, DVec3, Lens, Pose};
use serde_json::Value as Json;

use crate::block::Value as _;
use crate::check::{check_places, check_values};
use crate::curves::{self, CurveTable, Curves, Files, NoFiles};
use crate::draft::Draft;
use crate::error::{Fault, Faults, SceneError};
use crate::file::{Preset, SceneFile, Tension};
use crate::path::{self, Place};
use crate::rig::Rig;
use crate::shading::Shading;
use crate::values;

/// A camera as drawn: where it stands and how it projects.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Place and attitude.
    pub pose: Pose,
    /// Projection.
    pub lens: Lens,
}

impl View {
    /// Where the ray through a point of the picture goes, of length 1 along the
    /// optical axis; it starts at the pose's position. `None` where the lens model has
    /// no inverse.
    #[must_use]
    pub fn direction(&self, pixel: DVec2) -> Option<DVec3> {
        let n = self.lens.normalise(pixel)?;
        Some(self.pose.direction_to_world(DVec3::new(n.x, n.y, 1.0)))
    }

    /// Where a world point falls in the picture; `None` behind the camera.
    #[must_use]
    pub fn project(&self, world: DVec3) -> Option<DVec2> {
        self.lens.project(self.pose.to_camera(world))
    }
}

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
        let drawn = found.sound(&DRAWN) && fixtures_are_sound(&file, &found);
        let rig = drawn.then(|| Rig::of(&file));
        if let Some(rig) = &rig {
            check_places(&file, rig, &mut found);
        }
        let curves = curves::load(&file, &*files, known, &mut found);
        if let Some(error) = found.into_error((tree.as_ref(), is_scene), source_name) {
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
            _ => self.with(path, values::value(text)),
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
        path::places(&whole, path).map_err(no_field)
    }

    fn no_field(&self, path: &str, reason: String) -> SceneError {
        let (source_name, field) = (self.source_name.clone(), path.to_owned());
        Fault::NoSuchField { source_name, field, reason }.into()
    }

    fn changed(&self, file: &SceneFile, path: &str, value: &Json) -> Result<SceneFile, SceneError> {
        let no_field = |reason| self.no_field(path, reason);
        let mut whole = serde_json::to_value(file).map_err(|error| no_field(error.to_string()))?;
        let places = path::places(&whole, path).map_err(no_field)?;
        for Place { pointer, value: old, .. } in &places {
            if let Some(place) = whole.pointer_mut(pointer) {
                *place = values::put(old, value);
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

/// The fields of the cube that its solids come from, and the shafts.
pub(crate) const DRAWN: [&str; 7] = [
    "cube.edge_mm",
    "cube.gap_mm",
    "cube.rim_radius_mm",
    "cube.facelet_edge_mm",
    "cube.facelet_corner_mm",
    "cube.body",
    "shafts",
];

/// Whether the fixtures' sizes and places are; their names and looks do not matter.
fn fixtures_are_sound(file: &SceneFile, found: &Faults) -> bool {
    let sizes = (0..file.fixtures.len())
        .flat_map(|i| ["shape", "position_mm", "size_mm"].map(|f| format!("fixtures[{i}].{f}")));
    sizes.into_iter().all(|field| found.sound(&[&field]))
}

/// The line that a syntax error is on, so that the field and value are seen.
fn quoted_line(text: &str, number: usize) -> String {
    let line = text.lines().nth(number.saturating_sub(1)).unwrap_or_default().trim();
    let shown: String = line.chars().filter(|c| !c.is_control()).take(80).collect();
    if shown.is_empty() { shown } else { format!(", in the line `{shown}`") }
}

/// Takes fields out of the block that a preset belongs to, so that they start from it.
fn leave_out(whole: &mut Json, block: &str, governed: &[&str]) {
    if let Some(fields) = whole.get_mut(block).and_then(Json::as_object_mut) {
        governed.iter().for_each(|field| drop(fields.remove(*field)));
    }
}
