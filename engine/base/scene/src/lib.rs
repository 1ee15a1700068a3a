//! The scene: what a person writes about the rig (RON, version 1), checked, and
//! the rig's solids as the drawing has them.
//!
//! ```
//! use dryturn_scene::{Scene, file::SceneFile};
//!
//! let text = std::fs::read_to_string("../../../scenes/workbench.ron").unwrap();
//! let scene = Scene::parse(&text, "workbench.ron").unwrap();
//! assert_eq!(scene.file().shafts.len(), 6);
//! let dark = scene.with("lamps.panel.flux_lm", 0.0.into()).unwrap();
//! assert_eq!(dark.file().lamps[0].flux_lm, 0.0);
//! ```

#[macro_use]
mod block;
mod check;
mod docs;
mod error;
pub mod file;
mod rig;
mod scene;

pub use block::FieldDoc;
pub use docs::field_reference;
pub use error::SceneError;
pub use rig::{Part, Rig, Surface};
pub use scene::{Scene, View};
