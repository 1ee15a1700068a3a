//! All solids of a rig: those that stand still, and layers that turn as a whole.

use fearless_simd::Simd;

use crate::hits::{Hits, Tree};
use crate::lanes::prelude::*;
use crate::lanes::{Floats, LANES, Mask, Rays, V3};
use crate::shape::{Axis, Shape};

/// Solids that turn together about a world axis through the origin.
pub struct Turning {
    /// The axis.
    pub axis: Axis,
    /// Numbers and shapes of the solids, at angle 0.
    pub shapes: Vec<(u32, Shape)>,
}

/// How far a group has turned, each lane for itself: cosine and sine of the angle,
/// positive by the right-hand rule about the axis.
#[derive(Clone, Copy)]
pub struct Spin<S: Simd> {
    /// Cosine of the angle.
    pub cos: Floats<S>,
    /// Sine of the angle.
    pub sin: Floats<S>,
}

impl<S: Simd> Spin<S> {
    /// A vector turned with the group.
    #[inline(always)]
    fn forth(&self, axis: usize, v: V3<S>) -> V3<S> {
        let (a, b) = ((axis + 1) % 3, (axis + 2) % 3);
        let mut out = v;
        out.0[a] = v.0[a] * self.cos - v.0[b] * self.sin;
        out.0[b] = v.0[a] * self.sin + v.0[b] * self.cos;
        out
    }

    /// A vector as the group itself sees it.
    #[inline(always)]
    fn back(&self, axis: usize, v: V3<S>) -> V3<S> {
        Self { cos: self.cos, sin: -self.sin }.forth(axis, v)
    }
}

struct Group {
    axis: usize,
    tree: Tree,
    /// Numbers of its solids.
    ids: Vec<u32>,
}

/// All solids. Numbers of solids are unique over the whole assembly.
pub struct Assembly {
    still: Tree,
    groups: Vec<Group>,
}

impl Assembly {
    /// Of solids that stand still, numbered from 0 in their order, and of groups
    /// that turn, which bring their numbers.
    #[must_use]
    pub fn new(still: Vec<Shape>, turning: Vec<Turning>) -> Self {
        let numbered: Vec<(u32, Shape)> = (0..).zip(still).collect();
        Self::with_numbers(&numbered, turning)
    }

    /// The same, where those that stand still bring their numbers too.
    #[must_use]
    pub fn with_numbers(still: &[(u32, Shape)], turning: Vec<Turning>) -> Self {
        let group = |Turning { axis, shapes }| Group {
            axis: axis.index(),
            tree: Tree::new(&shapes),
            ids: shapes.into_iter().map(|(id, _)| id).collect(),
        };
        Self { still: Tree::new(still), groups: turning.into_iter().map(group).collect() }
    }

    /// Number of groups that turn.
    #[must_use]
    pub fn groups(&self) -> usize {
        self.groups.len()
    }

    #[inline(always)]
    fn seen_by<S: Simd>(simd: S, axis: usize, spin: &Spin<S>, rays: &Rays<S>) -> Rays<S> {
        let (origin, direction) = (spin.back(axis, rays.origin), spin.back(axis, rays.direction));
        Rays::new(simd, origin, direction, rays.leaving)
    }

    /// What each live lane meets first, with normals in the world. `spins` come one
    /// a group.
    #[inline(always)]
    pub fn nearest<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        spins: &[Spin<S>],
        live: Mask<S>,
    ) -> Hits<S> {
        // A function of its own for each processor: it is called from many places.
        simd.vectorize(
            #[inline(always)]
            || {
                let endless = Floats::splat(simd, f32::INFINITY);
                let reach = live.select(endless, Floats::splat(simd, -1.0));
                let mut hits = self.still.nearest(simd, rays, reach);
                for (group, spin) in self.groups.iter().zip(spins) {
                    self.nearest_turned(simd, rays, (group, spin), &mut hits);
                }
                hits
            },
        )
    }

    #[inline(always)]
    fn nearest_turned<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        (group, spin): (&Group, &Spin<S>),
        hits: &mut Hits<S>,
    ) {
        simd.vectorize(
            #[inline(always)]
            || {
                let own = Self::seen_by(simd, group.axis, spin, rays);
                let mut found = group.tree.nearest(simd, &own, hits.t);
                let nearer = found.t.simd_lt(hits.t);
                if nearer.any_true() {
                    found.normal = spin.forth(group.axis, found.normal);
                    hits.take(nearer, &found);
                }
            },
        );
    }

    /// The live lanes whose way from `t` above 0 to 1 is clear.
    #[inline(always)]
    pub fn clear<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        spins: &[Spin<S>],
        live: Mask<S>,
    ) -> Mask<S> {
        simd.vectorize(
            #[inline(always)]
            || {
                let zero = Floats::splat(simd, 0.0);
                let mut reach = live.select(Floats::splat(simd, 1.0), Floats::splat(simd, -1.0));
                self.still.block(simd, rays, &mut reach);
                for (group, spin) in self.groups.iter().zip(spins) {
                    if !reach.simd_ge(zero).any_true() {
                        break;
                    }
                    self.clear_turned(simd, rays, (group, spin), &mut reach);
                }
                reach.simd_ge(zero)
            },
        )
    }

    /// The same where nothing turns and nothing but a few solids, by their numbers, can
    /// stand in the way; none of them is the one that a ray leaves.
    #[inline(always)]
    pub fn clear_of<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        few: &[u32],
        live: Mask<S>,
    ) -> Mask<S> {
        simd.vectorize(
            #[inline(always)]
            || {
                let mut reach = live.select(Floats::splat(simd, 1.0), Floats::splat(simd, -1.0));
                self.still.block_by(simd, rays, few, &mut reach);
                reach.simd_ge(Floats::splat(simd, 0.0))
            },
        )
    }

    #[inline(always)]
    fn clear_turned<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        (group, spin): (&Group, &Spin<S>),
        reach: &mut Floats<S>,
    ) {
        simd.vectorize(
            #[inline(always)]
            || {
                let own = Self::seen_by(simd, group.axis, spin, rays);
                group.tree.block(simd, &own, reach);
            },
        );
    }

    /// World points as the solids that lanes have met see them: turned back with
    /// their group.
    #[inline(always)]
    pub fn on_solids<S: Simd>(
        &self,
        simd: S,
        spins: &[Spin<S>],
        hits: &Hits<S>,
        points: V3<S>,
    ) -> V3<S> {
        let mut out = points;
        for (group, spin) in self.groups.iter().zip(spins) {
            let mut bits = 0;
            for lane in 0..LANES {
                bits |= u64::from(group.ids.contains(&hits.solid[lane])) << lane;
            }
            let mine = Mask::from_bitmask(simd, bits);
            out = spin.back(group.axis, points).or_else(mine, out);
        }
        out
    }
}
