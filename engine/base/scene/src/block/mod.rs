//! One macro declares a block of the scene file: its fields with type, default,
//! range and reason. From that come the struct, its strict reader, the range
//! checks and the field reference, so that they cannot disagree.

#[macro_use]
mod declare;
mod given;
mod kinds;
mod words;

use crate::fault::FieldError;
use crate::text::Shape;

pub use given::Given;
pub(crate) use kinds::fits;
pub use words::Words;

/// One line of the field reference.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldDoc {
    /// The field's name; its last part is the unit.
    pub name: &'static str,
    /// The default as RON, or "required".
    pub default: String,
    /// What may stand there.
    pub allowed: String,
    /// Least and greatest number, where it is one, two or three.
    pub limits: Option<(f64, f64)>,
    /// What it means and why the default is what it is.
    pub meaning: &'static str,
}

/// A value that a field can hold, with the ranges that can be put on it.
pub(crate) trait Value {
    type Range;
    /// Adds every fault to those found before.
    fn check(&self, path: &str, range: &Self::Range, found: &mut Vec<FieldError>);
    fn allowed(range: &Self::Range) -> String;
    /// What its text must look like.
    fn shape() -> Shape;
    fn limits(_: &Self::Range) -> Option<(f64, f64)> {
        None
    }
}
