//! Fields of a scene and what they may be, as a person writes them.

mod path;
mod values;

pub use path::Place;
pub(crate) use path::places;
pub use values::{Values, Variation};
pub(crate) use values::{put, value};
