//! What is strange about a scene that is valid: it can be rehearsed, but somebody who built
//! it so would be disappointed. Each finding names the field to look at first, its figures,
//! and what to change.
//!
//! ```
//! use dryturn_studies::{FindingKind, findings};
//! use dryturn_scene::Scene;
//!
//! let text = std::fs::read_to_string("../../../scenes/workbench.ron").unwrap();
//! let scene = Scene::parse(&text, "workbench.ron").unwrap();
//! assert!(findings(&scene).is_empty());
//! let dazzling = scene.with("lamps.panel.flux_lm", 800_000.0.into()).unwrap();
//! assert!(findings(&dazzling).iter().any(|f| f.kind == FindingKind::LampTooBright));
//! ```

mod axes;
mod flicker;
mod kind;
mod light;
mod lit;
mod picture;
mod shafts;
mod sight;

use dryturn_driving::Machine;
use dryturn_scene::{Scene, Visibility};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use kind::FindingKind;

/// How bad it is.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// It does what it should, but not well, or not as somebody may expect.
    Doubtful,
    /// It cannot do what it is there for.
    Wrong,
}

impl Severity {
    /// In one word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Doubtful => "doubtful",
            Self::Wrong => "wrong",
        }
    }
}

/// One thing that is strange about a valid scene.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What kind of thing it is.
    pub kind: FindingKind,
    /// How bad it is.
    pub severity: Severity,
    /// Dotted path of the field to look at first, as [`Scene::with`] takes it.
    pub field: String,
    /// The figures that it follows from; names end in their unit.
    pub figures: Vec<(&'static str, f64)>,
    /// What is strange, with the figures.
    pub says: String,
    /// What to change.
    pub change: String,
}

impl Finding {
    fn new(kind: FindingKind, severity: Severity, field: impl Into<String>) -> Self {
        let (figures, says, change) = (Vec::new(), String::new(), String::new());
        Self { kind, severity, field: field.into(), figures, says, change }
    }

    fn wrong(kind: FindingKind, field: impl Into<String>) -> Self {
        Self::new(kind, Severity::Wrong, field)
    }

    fn doubtful(kind: FindingKind, field: impl Into<String>) -> Self {
        Self::new(kind, Severity::Doubtful, field)
    }

    fn figure(mut self, name: &'static str, value: f64) -> Self {
        self.figures.push((name, value));
        self
    }

    fn says(self, says: impl Into<String>, change: impl Into<String>) -> Self {
        Self { says: says.into(), change: change.into(), ..self }
    }

    /// In one line: what kind, where, what is strange, what to change.
    #[must_use]
    pub fn sentence(&self) -> String {
        let Self { kind, field, says, change, .. } = self;
        format!("{} ({}): {field}: {says}; {change}", self.severity.word(), kind.name())
    }
}

/// All that is strange about a scene: cameras, light and pictures, shafts, axes. Light is
/// looked at in pictures of few pixels, which takes a fraction of a second.
#[must_use]
pub fn findings(scene: &Scene) -> Vec<Finding> {
    let visibility = Visibility::of(scene);
    let lit = lit::Lit::of(scene, &visibility);
    let machine = Machine::of(scene);
    let mut found = sight::findings(scene, &visibility);
    found.extend(light::findings(&lit));
    found.extend(picture::findings(&lit));
    found.extend(shafts::findings(scene, &machine));
    found.extend(axes::findings(scene, &machine));
    found
}
