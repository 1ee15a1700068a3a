//! What both programs share at their edge: files in, what a wrong call is told, locks. Every error
//! is one line that names the file.

mod files;
mod lock;
mod project;
mod scene;
mod usage;

pub use files::{bytes, text};
pub use lock::locked;
pub use project::Project;
pub use scene::scene;
pub use usage::usage_line;
