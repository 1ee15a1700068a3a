//! Where things are and what a ray meets: poses, the pinhole with Brown–Conrady
//! distortion, boxes and cylinders, and a bounding volume hierarchy over them.
//!
//! World axes: x to the right face of the cube, y up, z to the front face; the
//! cube's centre is the origin. A camera looks along its own +z, x to the right
//! and y down in the picture; the centre of the top-left pixel is (0, 0).

mod bvh;
mod lens;
mod pose;
mod solid;

pub use bvh::Bvh;
pub use glam::{DMat3, DVec2, DVec3};
pub use lens::{Distortion, Lens};
pub use pose::{Pose, rotation};
pub use solid::{Axis, Hit, Ray, Shape};
