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
mod curves;
mod derived;
mod docs;
mod draft;
mod error;
mod faces;
pub mod file;
mod given;
pub mod lamp;
mod material;
mod path;
mod posture;
mod quickness;
mod rig;
mod scene;
mod shading;
mod shape;
mod shared;
mod sight;
mod starter;
mod tree;
mod values;
mod visibility;

pub use block::FieldDoc;
pub use curves::{CurveTable, Files, NoFiles};
pub use derived::{CORE_SHARE, Derived, HOLLOW_RATIO, USUAL_EDGE_MM, USUAL_MASS_G, layer_inertia};
pub use docs::field_reference;
pub use error::{Fault, Position, SceneError};
pub use faces::{Fallen, OnFace};
pub use given::Given;
pub use material::{Look, Material, Surface, materials};
pub use path::Place;
pub use posture::{Course, Posture};
pub use quickness::{QUICKEST_PER_S, Rate, WALL_OVER_CUBE};
pub use rig::{Part, Rig, axis_of};
pub use scene::{Scene, View};
pub use sight::{Posed, Sight, sight};
pub use starter::{STARTER, starter};
pub use values::{Values, Variation};
pub use visibility::{MountTolerance, Visibility};
