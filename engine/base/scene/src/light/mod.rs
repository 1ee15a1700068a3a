//! How the lights fall on the cube at rest.

mod faces;
mod shading;

pub use faces::{Fallen, OnFace};
pub(crate) use shading::{Shading, illuminance_lux};
