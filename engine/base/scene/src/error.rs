//! What can be wrong with a scene.

use thiserror::Error;

/// A fault in a scene file. Every message names the file, the line or field,
/// the value and what is allowed.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SceneError {
    /// The text is no scene: RON syntax, a missing or an unknown field, a wrong type.
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
    /// A value outside its range.
    #[error("{source_name}: {field} is {value}: must be {allowed}")]
    Value {
        /// The file, as the user named it.
        source_name: String,
        /// Dotted path of the field.
        field: String,
        /// What stands there.
        value: String,
        /// What may stand there.
        allowed: String,
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

impl SceneError {
    /// The same about another value.
    pub(crate) fn about(mut self, text: &str) -> Self {
        if let Self::Value { value, .. } = &mut self {
            text.clone_into(value);
        }
        self
    }
}

/// A value outside its range, before the file's name is known.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FieldError {
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
        Self { field: field.into(), value: value.to_string(), allowed: allowed.into() }
    }

    pub(crate) fn in_source(self, source_name: &str) -> SceneError {
        let Self { field, value, allowed } = self;
        SceneError::Value { source_name: source_name.to_owned(), field, value, allowed }
    }
}
