//! Where things are and what a ray meets: poses, the pinhole with Brown–Conrady
//! distortion, solids, and sixteen rays at a time against a tree of them.
//!
//! World axes: x to the right face of the cube, y up, z to the front face; the
//! cube's centre is the origin. A camera looks along its own +z, x to the right
//! and y down in the picture; the centre of the top-left pixel is (0, 0).
//!
//! Rays are traced in single precision, sixteen at a time, with the widest vector
//! instructions that the processor has. Every operation is one that IEEE 754 rounds
//! exactly, in a fixed order, so that the results are the same on all of them.
//!
//! ```
//! use dryturn_geometry::lanes::{Floats, Mask, Rays, Words, V3};
//! use dryturn_geometry::{Assembly, DVec3, Level, Shape, Simd, dispatch};
//! use dryturn_geometry::lanes::prelude::*;
//!
//! let cube = Shape::Box { min: DVec3::splat(-1.0), max: DVec3::splat(1.0) };
//! let assembly = Assembly::new(vec![cube], Vec::new());
//! fn look<S: Simd>(simd: S, assembly: &Assembly) -> f32 {
//!     let from = V3::splat(simd, [5.0, 0.2, 0.3]);
//!     let rays = Rays::new(simd, from, V3::splat(simd, [-1.0, 0.0, 0.0]), Words::splat(simd, u32::MAX));
//!     assembly.nearest(simd, &rays, &[], Mask::splat(simd, true)).t[7]
//! }
//! let level = Level::new();
//! assert_eq!(dispatch!(level, simd => look(simd, &assembly)), 4.0);
//! ```

mod assembly;
mod between;
mod hits;
pub mod lanes;
mod lens;
mod pose;
mod pose_fit;
mod shape;

pub use assembly::{Assembly, Spin, Turning};
pub use between::{Bounds, may_stand_between};
pub use fearless_simd::{Level, Simd, dispatch};
pub use glam::{DMat3, DVec2, DVec3};
pub use hits::Hits;
pub use lens::{Distortion, Lens};
pub use pose::{Pose, rotation};
pub use pose_fit::{Fitted, fit_pose, fit_pose_near, misfit_px2};
pub use shape::{Axis, CURVED, Shape};
