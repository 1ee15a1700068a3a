//! Sixteen rays side by side: one lane a ray.
//!
//! Everything here, and every closure that uses it, must be inlined into the function
//! that [`crate::dispatch`] builds for a processor: only there are its instructions
//! known to the compiler.

use fearless_simd::{Simd, f32x16, mask32x16, u32x16};

/// What code over lanes needs in scope.
pub mod prelude {
    pub use fearless_simd::prelude::*;
}
use prelude::*;

/// Number of lanes.
pub const LANES: usize = 16;
/// A number a lane.
pub type Floats<S> = f32x16<S>;
/// A yes or no a lane.
pub type Mask<S> = mask32x16<S>;
/// A whole number a lane.
pub type Words<S> = u32x16<S>;

/// A vector a lane.
#[derive(Clone, Copy)]
pub struct V3<S: Simd>(pub [Floats<S>; 3]);

impl<S: Simd> V3<S> {
    /// The same vector in all lanes.
    #[inline(always)]
    pub fn splat(simd: S, v: [f32; 3]) -> Self {
        Self([Floats::splat(simd, v[0]), Floats::splat(simd, v[1]), Floats::splat(simd, v[2])])
    }

    /// Scalar product.
    #[inline(always)]
    pub fn dot(self, other: Self) -> Floats<S> {
        let ([a, b, c], [x, y, z]) = (self.0, other.0);
        a * x + b * y + c * z
    }

    /// Vector product.
    #[inline(always)]
    pub fn cross(self, other: Self) -> Self {
        let ([a, b, c], [x, y, z]) = (self.0, other.0);
        Self([b * z - c * y, c * x - a * z, a * y - b * x])
    }

    /// Sum.
    #[inline(always)]
    pub fn plus(self, other: Self) -> Self {
        let ([a, b, c], [x, y, z]) = (self.0, other.0);
        Self([a + x, b + y, c + z])
    }

    /// Difference.
    #[inline(always)]
    pub fn minus(self, other: Self) -> Self {
        let ([a, b, c], [x, y, z]) = (self.0, other.0);
        Self([a - x, b - y, c - z])
    }

    /// Each lane times its own number.
    #[inline(always)]
    pub fn times(self, k: Floats<S>) -> Self {
        let [a, b, c] = self.0;
        Self([a * k, b * k, c * k])
    }

    /// Unit vector of the same direction.
    #[inline(always)]
    pub fn normalised(self, simd: S) -> Self {
        self.times(Floats::splat(simd, 1.0) / self.dot(self).sqrt())
    }

    /// The other way round.
    #[inline(always)]
    pub fn reversed(self) -> Self {
        let [a, b, c] = self.0;
        Self([-a, -b, -c])
    }

    /// This where the mask says so, else the other.
    #[inline(always)]
    pub fn or_else(self, mask: Mask<S>, other: Self) -> Self {
        let ([a, b, c], [x, y, z]) = (self.0, other.0);
        Self([mask.select(a, x), mask.select(b, y), mask.select(c, z)])
    }
}

/// The value, or something tiny of its sign, so that its inverse is finite: 0 · ∞ would
/// be no number.
#[inline(always)]
pub(crate) fn not_zero<S: Simd>(simd: S, v: Floats<S>) -> Floats<S> {
    let tiny = Floats::splat(simd, 1e-12);
    v.abs().simd_lt(tiny).select(tiny.copysign(v), v)
}

/// Half-lines; directions need not have unit length, `t` counts in them.
#[derive(Clone, Copy)]
pub struct Rays<S: Simd> {
    /// Where they start.
    pub origin: V3<S>,
    /// Where they go.
    pub direction: V3<S>,
    pub(crate) inverse: V3<S>,
    /// The solid that each starts on and cannot meet again, since solids are convex;
    /// `u32::MAX` for none.
    pub leaving: Words<S>,
}

impl<S: Simd> Rays<S> {
    /// Rays from `origin` along `direction`; see [`Rays::leaving`].
    #[inline(always)]
    pub fn new(simd: S, origin: V3<S>, direction: V3<S>, leaving: Words<S>) -> Self {
        let one = Floats::splat(simd, 1.0);
        let [a, b, c] = direction.0;
        let (a, b, c) = (not_zero(simd, a), not_zero(simd, b), not_zero(simd, c));
        // One division for three: they take their time.
        let all = one / (a * b * c);
        let inverse = V3([b * c * all, a * c * all, a * b * all]);
        Self { origin, direction: V3([a, b, c]), inverse, leaving }
    }

    /// Points at `t`.
    #[inline(always)]
    pub fn at(&self, t: Floats<S>) -> V3<S> {
        self.origin.plus(self.direction.times(t))
    }
}
