//! What sixteen rays meet first of a few dozen solids.

mod boxed;
mod solid;
mod tree;

use fearless_simd::Simd;

use crate::lanes::prelude::*;
use crate::lanes::{Floats, Mask, V3, Words};

pub(crate) use tree::Tree;

/// No solid.
const NONE: u32 = u32::MAX;

/// What each lane meets first.
#[derive(Clone, Copy)]
pub struct Hits<S: Simd> {
    /// Ray parameter; the reach that was asked for where nothing is met.
    pub t: Floats<S>,
    /// Number of the solid, `u32::MAX` where nothing is met.
    pub solid: Words<S>,
    /// Which of its surfaces: 0 to 5 flat faces, [`crate::CURVED`] the rest.
    pub surface: Words<S>,
    /// Outward unit normal.
    pub normal: V3<S>,
}

impl<S: Simd> Hits<S> {
    #[inline(always)]
    fn none(simd: S, reach: Floats<S>) -> Self {
        Self {
            t: reach,
            solid: Words::splat(simd, NONE),
            surface: Words::splat(simd, 0),
            normal: V3::splat(simd, [0.0; 3]),
        }
    }

    /// Takes what another query found where the mask says so.
    #[inline(always)]
    pub(crate) fn take(&mut self, mask: Mask<S>, other: &Self) {
        self.t = mask.select(other.t, self.t);
        self.solid = mask.select(other.solid, self.solid);
        self.surface = mask.select(other.surface, self.surface);
        self.normal = other.normal.or_else(mask, self.normal);
    }
}
