//! The rig as the drawing has it: its solids and what they look like, its lamps and cameras, and
//! what a camera's pixels show.

mod clearance;
pub mod lamp;
mod material;
mod posture;
mod rig;
mod sight;
mod solids;
mod view;

pub use material::{Look, Material, Surface, materials};
pub use posture::{Course, Posture};
pub use rig::Rig;
pub use sight::{Posed, Sight, sight};
pub use solids::{Part, axis_of};
pub use view::View;
