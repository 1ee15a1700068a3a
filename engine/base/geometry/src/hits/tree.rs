//! A bounding volume hierarchy over a few dozen solids, walked by sixteen rays at a
//! time: a box is entered when any of them enters it.

use fearless_simd::Simd;
use glam::Vec3;

use super::boxed::Entry;
use super::solid::Solid;
use super::{Hits, NONE};
use crate::lanes::prelude::*;
use crate::lanes::{Floats, Rays, Words};
use crate::shape::Shape;

/// A box around one solid or many.
struct Node {
    bounds: ([f32; 3], [f32; 3]),
    /// The node to go on with when the box is missed.
    skip: u32,
    /// Place of the one solid, or [`NONE`].
    leaf: u32,
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
        self.nodes.push(Node { bounds: (min.to_array(), max.to_array()), skip: 0, leaf });
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

    /// The next solid whose box some lanes enter before what they have met at `t`, from node `at`
    /// on.
    #[inline(always)]
    fn next<'a, S: Simd>(
        &self,
        simd: S,
        rays: &'a Rays<S>,
        t: Floats<S>,
        at: &mut usize,
    ) -> Option<(&Solid, Entry<'a, S>)> {
        while let Some(node) = self.nodes.get(*at) {
            let mut entry = Entry::of(simd, rays, node.bounds, t);
            if !entry.lanes.any_true() {
                *at = node.skip as usize;
                continue;
            }
            *at += 1;
            if node.leaf == NONE {
                continue;
            }
            let solid = &self.solids[node.leaf as usize];
            entry.lanes &= !rays.leaving.simd_eq(Words::splat(simd, solid.id));
            if entry.lanes.any_true() {
                return Some((solid, entry));
            }
        }
        None
    }

    /// What each lane meets first below its reach; a negative reach rests the lane.
    #[inline(always)]
    pub(crate) fn nearest<S: Simd>(&self, simd: S, rays: &Rays<S>, reach: Floats<S>) -> Hits<S> {
        let (mut hits, mut at) = (Hits::none(simd, reach), 0);
        while let Some((solid, entry)) = self.next(simd, rays, hits.t, &mut at) {
            solid.hit(&entry, &mut hits);
        }
        hits
    }

    /// Shortens the reach of lanes that anything blocks to −1.
    #[inline(always)]
    pub(crate) fn block<S: Simd>(&self, simd: S, rays: &Rays<S>, reach: &mut Floats<S>) {
        let (mut hits, mut at) = (Hits::none(simd, *reach), 0);
        while let Some((solid, entry)) = self.next(simd, rays, hits.t, &mut at) {
            if solid.block(&entry, &mut hits) {
                break;
            }
        }
        *reach = hits.t;
    }

    /// The same by solids that are named by their places.
    #[inline(always)]
    pub(crate) fn block_by<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        places: &[u32],
        reach: &mut Floats<S>,
    ) {
        let mut hits = Hits::none(simd, *reach);
        for &place in places {
            let solid = &self.solids[place as usize];
            let entry = Entry::of(simd, rays, solid.bounds, hits.t);
            if entry.lanes.any_true() && solid.block(&entry, &mut hits) {
                break;
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
