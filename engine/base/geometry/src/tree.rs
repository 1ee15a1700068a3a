//! A bounding volume hierarchy over a few dozen solids, walked by sixteen rays at a
//! time: a box is entered when any of them enters it.

use fearless_simd::Simd;
use glam::Vec3;

use crate::lanes::prelude::*;
use crate::lanes::{Floats, Mask, Rays, V3, Words};
use crate::shape::Shape;
use crate::solid_hits::Solid;

/// No solid.
pub(crate) const NONE: u32 = u32::MAX;

/// Boxes that a ray leaves before this are behind it: a ray that starts on the surface of
/// the cube need not look at the cube's pieces. In the ray's own length, of which shadow
/// rays are one.
const START: f32 = 1e-5;

/// A box around one solid or many.
struct Node {
    min: [f32; 3],
    max: [f32; 3],
    /// The node to go on with when the box is missed.
    skip: u32,
    /// Place of the one solid, or [`NONE`].
    leaf: u32,
}

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
    pub(crate) fn none(simd: S, reach: Floats<S>) -> Self {
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

/// Entry into a box: the latest of three, and each; and the way out.
#[derive(Clone, Copy)]
pub(crate) struct Slabs<S: Simd> {
    pub(crate) near: Floats<S>,
    pub(crate) each: [Floats<S>; 3],
    pub(crate) far: Floats<S>,
}

impl<S: Simd> Slabs<S> {
    #[inline(always)]
    pub(crate) fn of(simd: S, rays: &Rays<S>, min: [f32; 3], max: [f32; 3]) -> Self {
        let zero = Floats::splat(simd, 0.0);
        let (mut each, mut far) = ([zero; 3], Floats::splat(simd, f32::INFINITY));
        for k in 0..3 {
            let (origin, inverse) = (rays.origin.0[k], rays.inverse.0[k]);
            let low = (Floats::splat(simd, min[k]) - origin) * inverse;
            let high = (Floats::splat(simd, max[k]) - origin) * inverse;
            each[k] = low.min(high);
            far = far.min(low.max(high));
        }
        Self { near: each[0].max(each[1]).max(each[2]), each, far }
    }
}

/// Solids in a tree of boxes, laid out so that rays walk it without a stack.
pub(crate) struct Tree {
    nodes: Vec<Node>,
    solids: Vec<Solid>,
}

impl Tree {
    /// Over solids with their numbers.
    pub(crate) fn new(shapes: &[(u32, Shape)]) -> Self {
        let solids: Vec<Solid> = shapes.iter().map(|(id, shape)| Solid::new(*id, shape)).collect();
        let bounds: Vec<(Vec3, Vec3)> = solids.iter().map(Solid::bounds).collect();
        let mut tree = Self { nodes: Vec::new(), solids };
        let mut order: Vec<usize> = (0..shapes.len()).collect();
        if !order.is_empty() {
            tree.build(&bounds, &mut order);
        }
        tree
    }

    /// Splits where the surfaces of both halves, weighted with their solids, are
    /// smallest (J. D. MacDonald and K. S. Booth, *Heuristics for ray tracing using
    /// space subdivision*, 1990).
    fn build(&mut self, bounds: &[(Vec3, Vec3)], order: &mut [usize]) {
        let (min, max) = union(bounds, order);
        let here = self.nodes.len();
        let leaf = if let [only] = *order { only as u32 } else { NONE };
        self.nodes.push(Node { min: min.to_array(), max: max.to_array(), skip: 0, leaf });
        if leaf == NONE {
            let sort = |order: &mut [usize], axis: usize| {
                let middle = |i: usize| bounds[i].0[axis] + bounds[i].1[axis];
                order.sort_by(|&a, &b| middle(a).total_cmp(&middle(b)).then(a.cmp(&b)));
            };
            let (mut least, mut best) = (f32::INFINITY, (0, 1));
            for axis in 0..3 {
                sort(order, axis);
                for cut in 1..order.len() {
                    let (left, right) = order.split_at(cut);
                    let weigh = |half: &[usize]| area(union(bounds, half)) * half.len() as f32;
                    let cost = weigh(left) + weigh(right);
                    if cost < least {
                        (least, best) = (cost, (axis, cut));
                    }
                }
            }
            sort(order, best.0);
            let (left, right) = order.split_at_mut(best.1);
            self.build(bounds, left);
            self.build(bounds, right);
        }
        self.nodes[here].skip = self.nodes.len() as u32;
    }

    /// Calls `visit` for every solid whose box some lanes enter before what they have
    /// met, until it says that this is enough.
    #[inline(always)]
    fn walk<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        hits: &mut Hits<S>,
        mut visit: impl FnMut(&Solid, &Slabs<S>, Mask<S>, &mut Hits<S>) -> bool,
    ) {
        let start = Floats::splat(simd, START);
        let mut at = 0;
        while let Some(node) = self.nodes.get(at) {
            let slabs = Slabs::of(simd, rays, node.min, node.max);
            let near = slabs.near.max(start);
            let mut entered = near.simd_le(slabs.far) & near.simd_lt(hits.t);
            if !entered.any_true() {
                at = node.skip as usize;
                continue;
            }
            at += 1;
            if node.leaf == NONE {
                continue;
            }
            let solid = &self.solids[node.leaf as usize];
            entered &= !rays.leaving.simd_eq(Words::splat(simd, solid.id));
            if entered.any_true() && visit(solid, &slabs, entered, hits) {
                return;
            }
        }
    }

    /// What each lane meets first below its reach; a negative reach rests the lane.
    #[inline(always)]
    pub(crate) fn nearest<S: Simd>(&self, simd: S, rays: &Rays<S>, reach: Floats<S>) -> Hits<S> {
        let mut hits = Hits::none(simd, reach);
        self.walk(
            simd,
            rays,
            &mut hits,
            #[inline(always)]
            |solid, slabs, entered, hits| {
                solid.hit(simd, rays, slabs, entered, hits);
                false
            },
        );
        hits
    }

    /// Shortens the reach of lanes that anything blocks to −1.
    #[inline(always)]
    pub(crate) fn block<S: Simd>(&self, simd: S, rays: &Rays<S>, reach: &mut Floats<S>) {
        let (zero, blocked) = (Floats::splat(simd, 0.0), Floats::splat(simd, -1.0));
        let mut hits = Hits::none(simd, *reach);
        self.walk(
            simd,
            rays,
            &mut hits,
            #[inline(always)]
            |solid, slabs, entered, hits| {
                let before = hits.t;
                solid.hit(simd, rays, slabs, entered, hits);
                hits.t = hits.t.simd_lt(before).select(blocked, hits.t);
                !hits.t.simd_ge(zero).any_true()
            },
        );
        *reach = hits.t;
    }
}

impl Tree {
    /// The same as [`Tree::block`] by solids that are named by their places.
    #[inline(always)]
    pub(crate) fn block_by<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        places: &[u32],
        reach: &mut Floats<S>,
    ) {
        let (start, blocked) = (Floats::splat(simd, START), Floats::splat(simd, -1.0));
        let mut hits = Hits::none(simd, *reach);
        for &place in places {
            let solid = &self.solids[place as usize];
            let slabs = Slabs::of(simd, rays, solid.min, solid.max);
            let near = slabs.near.max(start);
            let entered = near.simd_le(slabs.far) & near.simd_lt(hits.t);
            if entered.any_true() {
                let before = hits.t;
                solid.hit(simd, rays, &slabs, entered, &mut hits);
                hits.t = hits.t.simd_lt(before).select(blocked, hits.t);
                if !hits.t.simd_ge(start).any_true() {
                    break;
                }
            }
        }
        *reach = hits.t;
    }
}

fn union(bounds: &[(Vec3, Vec3)], which: &[usize]) -> (Vec3, Vec3) {
    which.iter().fold((Vec3::INFINITY, Vec3::NEG_INFINITY), |(min, max), &i| {
        (min.min(bounds[i].0), max.max(bounds[i].1))
    })
}

fn area((min, max): (Vec3, Vec3)) -> f32 {
    let e = max - min;
    e.x * e.y + e.y * e.z + e.z * e.x
}
