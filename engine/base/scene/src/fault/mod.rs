//! What can be wrong with a scene.

mod found;

use core::fmt;

use thiserror::Error;

pub(crate) use found::{Faults, FieldError, join};

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
