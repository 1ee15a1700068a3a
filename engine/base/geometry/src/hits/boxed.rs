//! Sixteen rays against a box along the axes.

use fearless_simd::Simd;

use crate::lanes::prelude::*;
use crate::lanes::{Floats, Mask, Rays};

/// Boxes that a ray leaves before this are behind it: a ray that starts on the surface of
/// the cube need not look at the cube's pieces. In the ray's own length, of which shadow
/// rays are one.
pub(super) const START: f32 = 1e-5;

/// Entry and exit along one axis of a box.
#[inline(always)]
pub(super) fn along<S: Simd>(
    simd: S,
    rays: &Rays<S>,
    (min, max): ([f32; 3], [f32; 3]),
    axis: usize,
) -> (Floats<S>, Floats<S>) {
    let (origin, inverse) = (rays.origin.0[axis], rays.inverse.0[axis]);
    let low = (Floats::splat(simd, min[axis]) - origin) * inverse;
    let high = (Floats::splat(simd, max[axis]) - origin) * inverse;
    (low.min(high), low.max(high))
}

/// Rays that enter a box.
pub(super) struct Entry<'a, S: Simd> {
    pub(super) simd: S,
    pub(super) rays: &'a Rays<S>,
    /// Way in: the latest of three, and each; and the way out.
    pub(super) near: Floats<S>,
    pub(super) each: [Floats<S>; 3],
    pub(super) far: Floats<S>,
    /// Which lanes enter it.
    pub(super) lanes: Mask<S>,
}

impl<'a, S: Simd> Entry<'a, S> {
    /// Of the lanes that enter a box before `t`.
    #[inline(always)]
    pub(super) fn of(
        simd: S,
        rays: &'a Rays<S>,
        bounds: ([f32; 3], [f32; 3]),
        t: Floats<S>,
    ) -> Self {
        let zero = Floats::splat(simd, 0.0);
        let (mut each, mut far) = ([zero; 3], Floats::splat(simd, f32::INFINITY));
        for (k, each) in each.iter_mut().enumerate() {
            let (enter, leave) = along(simd, rays, bounds, k);
            *each = enter;
            far = far.min(leave);
        }
        let near = each[0].max(each[1]).max(each[2]);
        let start = near.max(Floats::splat(simd, START));
        let lanes = start.simd_le(far) & start.simd_lt(t);
        Self { simd, rays, near, each, far, lanes }
    }
}
