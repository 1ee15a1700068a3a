//! What can be wrong with a scene.

use core::fmt;

use thiserror::Error;

use crate::tree::Node;

/// Where something stands in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// Counted from 1.
    pub line: usize,
    /// Characters, counted from 1.
    pub column: usize,
}

/// One thing that is wrong with a scene. Every message names the file, the line or field,
/// the value and what is allowed.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum Fault {
    /// The text is no RON: a bracket, quote or comma is out of place.
    #[error("{source_name}:{line}:{column}: {message}")]
    Syntax {
        /// The file, as the user named it.
        source_name: String,
        /// Counted from 1.
        line: usize,
        /// Counted from 1.
        column: usize,
        /// What the parser found.
        message: String,
    },
    /// A value outside its range or of another kind, a field that is missing, or one that
    /// is none.
    #[error("{}: {field} is {value}: must be {allowed}", Where(.source_name, *.place))]
    Value {
        /// The file, as the user named it.
        source_name: String,
        /// Where it stands, if it stands in a file.
        place: Option<Position>,
        /// Dotted path of the field.
        field: String,
        /// What stands there.
        value: String,
        /// What may stand there.
        allowed: String,
    },
    /// There are too many to tell all.
    #[error("{source_name}: and at least {more} more")]
    More {
        /// The file, as the user named it.
        source_name: String,
        /// How many are not told.
        more: usize,
    },
    /// A path given to [`crate::Scene::with`] that leads nowhere.
    #[error("{source_name}: there is no field {field}: {reason}")]
    NoSuchField {
        /// The file, as the user named it.
        source_name: String,
        /// Dotted path of the field.
        field: String,
        /// Where the path breaks off.
        reason: String,
    },
}

/// A file's name, with line and column where they are known.
struct Where<'a>(&'a str, Option<Position>);

impl fmt::Display for Where<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.1 {
            Some(Position { line, column }) => write!(f, "{}:{line}:{column}", self.0),
            None => f.write_str(self.0),
        }
    }
}

/// All that is wrong with a scene, up to a hundred faults: at least one, in the order of the file. Shown in
/// one line; [`SceneError::faults`] has them one by one.
#[derive(Clone, Debug, PartialEq)]
pub struct SceneError {
    faults: Vec<Fault>,
    /// Whether the text has the blocks of a scene, whatever is wrong inside.
    is_scene: bool,
}

impl core::error::Error for SceneError {}

impl fmt::Display for SceneError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.faults.iter().enumerate() {
            let before = if i == 0 { "" } else { "; " };
            write!(f, "{before}{fault}")?;
        }
        Ok(())
    }
}

impl From<Fault> for SceneError {
    fn from(fault: Fault) -> Self {
        Self { faults: vec![fault], is_scene: false }
    }
}

impl SceneError {
    /// Each fault by itself, in the order of the file.
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// In one line, for somebody who need not know what the file holds: nothing of a text is
    /// told that is no scene; where it breaks off, the place alone.
    #[must_use]
    pub fn discreet(&self) -> String {
        match &self.faults[..] {
            [Fault::Syntax { source_name, line, column, .. }, ..] => format!(
                "{source_name}:{line}:{column}: no scene: must be RON with the blocks of a scene"
            ),
            [Fault::Value { source_name, .. }, ..] if !self.is_scene => {
                format!("{source_name}: no scene: must be RON with the blocks of a scene")
            }
            _ => self.to_string(),
        }
    }

    /// The same about another value.
    pub(crate) fn about(mut self, text: &str) -> Self {
        if let Some(Fault::Value { value, .. }) = self.faults.first_mut() {
            text.clone_into(value);
        }
        self
    }
}

/// A fault of a field, before the file's name is known.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FieldError {
    pub(crate) place: Option<Position>,
    pub(crate) field: String,
    pub(crate) value: String,
    pub(crate) allowed: String,
}

impl FieldError {
    pub(crate) fn new(
        field: impl Into<String>,
        value: impl ToString,
        allowed: impl Into<String>,
    ) -> Self {
        Self { place: None, field: field.into(), value: value.to_string(), allowed: allowed.into() }
    }

    /// The same at a place of the file.
    pub(crate) fn at(self, place: Position) -> Self {
        Self { place: Some(place), ..self }
    }

    fn in_source(self, source_name: &str) -> Fault {
        let Self { place, field, value, allowed } = self;
        Fault::Value { source_name: source_name.to_owned(), place, field, value, allowed }
    }
}

/// Most faults that are told; a text of nothing but faults has tens of thousands.
const MOST_TOLD: usize = 100;
/// Most that are kept until all are known, and most stand-ins.
const MOST_KEPT: usize = 2000;

/// What has been found wrong with a scene so far.
#[derive(Debug, Default)]
pub(crate) struct Faults {
    found: Vec<FieldError>,
    /// Fields that hold a stand-in: what follows from their values says nothing.
    stand_ins: Vec<String>,
    /// How many more there were, at least.
    more: usize,
    /// Whether there were more stand-ins.
    more_stand_ins: bool,
}

/// Whether a field is another one or a part of it.
fn within(inner: &str, outer: &str) -> bool {
    let rest = inner.strip_prefix(outer);
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
}

impl Faults {
    pub(crate) fn count(&self) -> usize {
        self.found.len() + self.more
    }

    pub(crate) fn push(&mut self, error: FieldError) {
        if self.found.len() < MOST_KEPT {
            self.found.push(error);
        } else {
            self.more += 1;
        }
    }

    /// Notes that a field holds a stand-in.
    pub(crate) fn stand_in(&mut self, field: &str) {
        // Beyond that many nothing of the scene is taken for sound.
        if self.stand_ins.len() < MOST_KEPT {
            self.stand_ins.push(field.to_owned());
        } else {
            self.more_stand_ins = true;
        }
    }

    /// Adds faults of values, but for those of stand-ins.
    pub(crate) fn extend(&mut self, errors: Vec<FieldError>) {
        for error in errors {
            if self.found.len() >= MOST_KEPT {
                self.more += 1;
            } else if !self.stand_ins.iter().any(|field| within(&error.field, field)) {
                self.found.push(error);
            }
        }
    }

    /// Whether nothing is wrong with any of these fields, with parts of them, or with what
    /// they are part of: what follows from their values only makes sense then.
    pub(crate) fn sound(&self, fields: &[&str]) -> bool {
        let touches =
            |wrong: &str| fields.iter().any(|field| within(wrong, field) || within(field, wrong));
        self.more == 0
            && !self.more_stand_ins
            && !self.found.iter().any(|error| touches(&error.field))
            && !self.stand_ins.iter().any(|field| touches(field))
    }

    /// The whole list, where there is anything in it; `tree` knows where fields stand, and
    /// `is_scene` says whether the text is one at all.
    pub(crate) fn into_error(
        self,
        (tree, is_scene): (Option<&Node>, bool),
        source_name: &str,
    ) -> Option<SceneError> {
        let mut found = self.found;
        for error in &mut found {
            if let (None, Some(tree)) = (error.place, tree) {
                let (place, shared) = tree.find(&error.field);
                error.place = Some(place);
                error.field = shared.unwrap_or_else(|| error.field.clone());
            }
        }
        // What stands in no file comes last, as it was found.
        found.sort_by_key(|error| (error.place.is_none(), error.place));
        // What six shafts share is wrong once.
        let mut faults: Vec<Fault> = Vec::new();
        for error in found {
            let fault = error.in_source(source_name);
            if !faults.contains(&fault) {
                faults.push(fault);
            }
        }
        let more = self.more + faults.len().saturating_sub(MOST_TOLD);
        faults.truncate(MOST_TOLD);
        if more > 0 {
            faults.push(Fault::More { source_name: source_name.to_owned(), more });
        }
        (!faults.is_empty()).then_some(SceneError { faults, is_scene })
    }
}
