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
mod docs;
mod drawing;
mod fault;
mod figures;
pub mod file;
mod light;
mod names;
mod scene;
mod text;
mod visibility;

pub use block::{FieldDoc, Given, Words};
pub use curves::{CurveTable, Files, NoFiles};
pub use docs::field_reference;
pub use drawing::{
    Course, Look, Material, Part, Posed, Posture, Rig, Sight, Surface, View, axis_of, lamp,
    materials, sight,
};
pub use fault::{Fault, Position, SceneError};
pub use figures::{
    CORE_SHARE, Derived, HOLLOW_RATIO, QUICKEST_PER_S, Rate, USUAL_EDGE_MM, USUAL_MASS_G,
    WALL_OVER_CUBE, layer_inertia,
};
pub use light::{Fallen, OnFace};
pub use names::{Place, Values, Variation};
pub use scene::{STARTER, Scene, starter};
pub use visibility::{MountTolerance, Visibility};
