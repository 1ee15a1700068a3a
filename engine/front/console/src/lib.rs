//! What both programs share at their edge: files in, and what a wrong call is
//! told. Every error is one line that names the file.

mod files;
mod project;
mod scene;
mod usage;

pub use files::{bytes, text};
pub use project::Project;
pub use scene::scene;
pub use usage::usage_line;
