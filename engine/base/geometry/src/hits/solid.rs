//! Sixteen rays against one solid.

use fearless_simd::Simd;
use glam::{DVec3, Vec3};

use super::Hits;
use super::boxed::{Entry, START, along};
use crate::lanes::prelude::*;
use crate::lanes::{Floats, Mask, Rays, V3, Words, not_zero};
use crate::shape::{CURVED, Shape};

/// Below this a squared length counts as none.
const NOTHING: f32 = 1e-20;
/// What rounding may do to a place on a ray, in lengths of its direction: mm where that is a unit
/// vector.
const SLACK: f32 = 1e-4;

#[derive(Clone, Copy)]
enum Kind {
    Box,
    Round,
    /// Along an axis by number.
    Cylinder(usize),
    Hexagon(usize),
}

/// A solid in single precision.
pub(super) struct Solid {
    pub(super) id: u32,
    kind: Kind,
    /// Corners of the box around it.
    pub(super) bounds: ([f32; 3], [f32; 3]),
    centre: [f32; 3],
    half: [f32; 3],
    /// Of edges or of the cylinder; half the flats of a hexagon.
    radius: f32,
}

impl Solid {
    pub(super) fn new(id: u32, shape: &Shape) -> Self {
        let (min, max) = shape.bounds();
        let (kind, radius) = match *shape {
            Shape::Box { .. } => (Kind::Box, 0.0),
            Shape::RoundBox { radius, .. } => (Kind::Round, radius),
            Shape::Cylinder { axis, radius, .. } => (Kind::Cylinder(axis.index()), radius),
            Shape::Hexagon { axis, half_flats, .. } => (Kind::Hexagon(axis.index()), half_flats),
        };
        let single = |v: DVec3| v.as_vec3().to_array();
        let (centre, half) = (single((min + max) / 2.0), single((max - min) / 2.0));
        let bounds = (single(min), single(max));
        Self { id, kind, bounds, centre, half, radius: radius as f32 }
    }

    pub(super) fn bounds(&self) -> (Vec3, Vec3) {
        (self.bounds.0.into(), self.bounds.1.into())
    }

    /// Notes where lanes enter the solid from outside, nearer than what they have met;
    /// `entry` is that into its own box.
    #[inline(always)]
    pub(super) fn hit<S: Simd>(&self, entry: &Entry<'_, S>, hits: &mut Hits<S>) {
        match self.kind {
            Kind::Box => self.flat(entry, entry.lanes, hits),
            Kind::Round => self.round(entry, hits),
            // So that lanes are addressed by numbers that the compiler knows.
            Kind::Cylinder(0) => self.cylinder::<S, 0>(entry, hits),
            Kind::Cylinder(1) => self.cylinder::<S, 1>(entry, hits),
            Kind::Cylinder(_) => self.cylinder::<S, 2>(entry, hits),
            Kind::Hexagon(0) => self.hexagon::<S, 0>(entry, hits),
            Kind::Hexagon(1) => self.hexagon::<S, 1>(entry, hits),
            Kind::Hexagon(_) => self.hexagon::<S, 2>(entry, hits),
        }
    }

    /// The same where it is enough that anything is met: `t` of lanes that meet the solid becomes
    /// −1. Whether no lane is left that another solid could block.
    #[inline(always)]
    pub(super) fn block<S: Simd>(&self, entry: &Entry<'_, S>, hits: &mut Hits<S>) -> bool {
        let before = hits.t;
        self.hit(entry, hits);
        let blocked = Floats::splat(entry.simd, -1.0);
        hits.t = hits.t.simd_lt(before).select(blocked, hits.t);
        !hits.t.simd_ge(Floats::splat(entry.simd, START)).any_true()
    }

    #[inline(always)]
    fn note<S: Simd>(
        &self,
        simd: S,
        found: Mask<S>,
        (t, surface, normal): (Floats<S>, Words<S>, V3<S>),
        hits: &mut Hits<S>,
    ) {
        let solid = Words::splat(simd, self.id);
        hits.take(found, &Hits { t, solid, surface, normal });
    }

    /// Origins as seen from the solid's centre.
    #[inline(always)]
    fn since_centre<S: Simd>(&self, simd: S, rays: &Rays<S>) -> V3<S> {
        rays.origin.minus(V3::splat(simd, self.centre))
    }

    /// The flat face across an axis that rays enter, and its outward normal.
    #[inline(always)]
    fn face<S: Simd>(simd: S, rays: &Rays<S>, axis: usize) -> (Words<S>, Floats<S>) {
        let outwards = Floats::splat(simd, 1.0).copysign(-rays.direction.0[axis]);
        let low = Words::splat(simd, 2 * axis as u32);
        let high = Words::splat(simd, 2 * axis as u32 + 1);
        (outwards.simd_gt(Floats::splat(simd, 0.0)).select(high, low), outwards)
    }

    /// Entry of some lanes through a flat face of the bounding box.
    #[inline(always)]
    fn flat<S: Simd>(&self, entry: &Entry<'_, S>, lanes: Mask<S>, hits: &mut Hits<S>) {
        let Entry { simd, rays, near, each, .. } = *entry;
        let zero = Floats::splat(simd, 0.0);
        let found = lanes & near.simd_gt(zero) & near.simd_lt(hits.t);
        if !found.any_true() {
            return;
        }
        let mut open = Mask::splat(simd, true);
        let (mut surface, mut normal) = (Words::splat(simd, 0), V3::splat(simd, [0.0; 3]));
        for (k, &own) in each.iter().enumerate() {
            let mine = near.simd_eq(own) & open;
            open &= !mine;
            let (face, outwards) = Self::face(simd, rays, k);
            normal.0[k] = mine.select(outwards, zero);
            surface = mine.select(face, surface);
        }
        self.note(simd, found, (near, surface, normal), hits);
    }

    /// How far points on the rays are beyond the inner box, by axis.
    #[inline(always)]
    fn beyond<S: Simd>(
        &self,
        simd: S,
        (from, rays): (V3<S>, &Rays<S>),
        axis: usize,
        t: Floats<S>,
    ) -> (Floats<S>, Mask<S>) {
        let inner = Floats::splat(simd, self.half[axis] - self.radius);
        let place = from.0[axis] + rays.direction.0[axis] * t;
        let outside = place.abs().simd_gt(inner);
        (outside.select(place - inner.copysign(place), Floats::splat(simd, 0.0)), outside)
    }

    /// A box with rounded rims: flat where the other two coordinates are within the
    /// inner box. Elsewhere the ray goes from one region of the distance field to the
    /// next; in each the surface is a plane, a cylinder or a sphere round the inner
    /// box, so its entry is the root of a quadratic.
    #[inline(always)]
    fn round<S: Simd>(&self, entry: &Entry<'_, S>, hits: &mut Hits<S>) {
        let Entry { simd, rays, near, each, far, lanes } = *entry;
        let zero = Floats::splat(simd, 0.0);
        let start = near.max(zero);
        let from = self.since_centre(simd, rays);
        let mut flat = lanes & near.simd_gt(zero);
        for (k, &own) in each.iter().enumerate() {
            let (_, outside) = self.beyond(simd, (from, rays), k, start);
            flat &= !outside | near.simd_eq(own);
        }
        self.flat(entry, flat, hits);
        let mut open = lanes & !flat;
        if !open.any_true() {
            return;
        }
        let slack = Floats::splat(simd, SLACK);
        let mut t = start;
        // At most six planes are crossed.
        for _ in 0..7 {
            let (mut a, mut b) = (zero, zero);
            let mut c = Floats::splat(simd, -self.radius * self.radius);
            let mut next = far;
            for k in 0..3 {
                let (e, outside) = self.beyond(simd, (from, rays), k, t);
                let d = outside.select(rays.direction.0[k], zero);
                (a, b, c) = (a + d * d, b + e * d, c + e * e);
                let inner = Floats::splat(simd, self.half[k] - self.radius);
                for plane in [inner, -inner] {
                    let crossed = (plane - from.0[k]) * rays.inverse.0[k];
                    let later = crossed.simd_gt(t + slack);
                    next = later.select(next.min(crossed), next);
                }
            }
            let discriminant = b * b - a * c;
            let root = (-b - discriminant.max(zero).sqrt()) / a.max(Floats::splat(simd, NOTHING));
            let place = t + root.max(zero);
            let found = open
                & discriminant.simd_ge(zero)
                & root.simd_ge(Floats::splat(simd, -1e-3))
                & place.simd_le(next + slack);
            let nearer = found & place.simd_lt(hits.t);
            if nearer.any_true() {
                let mut normal = V3::splat(simd, [0.0; 3]);
                for k in 0..3 {
                    normal.0[k] = self.beyond(simd, (from, rays), k, place).0;
                }
                let normal = normal.times(Floats::splat(simd, 1.0 / self.radius));
                self.note(simd, nearer, (place, Words::splat(simd, CURVED), normal), hits);
            }
            open &= !found & next.simd_lt(far);
            if !open.any_true() {
                return;
            }
            t = next + slack;
        }
    }

    #[inline(always)]
    fn cylinder<S: Simd, const AXIS: usize>(&self, entry: &Entry<'_, S>, hits: &mut Hits<S>) {
        let Entry { simd, rays, lanes, .. } = *entry;
        let zero = Floats::splat(simd, 0.0);
        let (u, v) = ((AXIS + 1) % 3, (AXIS + 2) % 3);
        let from = self.since_centre(simd, rays);
        let (ou, ov) = (from.0[u], from.0[v]);
        let (du, dv) = (rays.direction.0[u], rays.direction.0[v]);
        let a = (du * du + dv * dv).max(Floats::splat(simd, NOTHING));
        // Measured from the place nearest to the axis: from the origin the square of
        // the distance would drown that of the radius.
        let nearest = -(ou * du + ov * dv) / a;
        let (pu, pv) = (ou + du * nearest, ov + dv * nearest);
        let inside = Floats::splat(simd, self.radius * self.radius) - (pu * pu + pv * pv);
        let half = (inside.max(zero) / a).sqrt();
        let (side, leave) = (nearest - half, nearest + half);
        let (cap, out) = along(simd, rays, self.bounds, AXIS);
        let t = side.max(cap);
        let found = lanes
            & inside.simd_gt(zero)
            & t.simd_le(leave.min(out))
            & t.simd_gt(zero)
            & t.simd_lt(hits.t);
        if !found.any_true() {
            return;
        }
        let on_side = side.simd_ge(cap);
        let per_radius = Floats::splat(simd, 1.0 / self.radius);
        let (face, outwards) = Self::face(simd, rays, AXIS);
        let mut normal = V3::splat(simd, [0.0; 3]);
        normal.0[u] = on_side.select((ou + du * t) * per_radius, zero);
        normal.0[v] = on_side.select((ov + dv * t) * per_radius, zero);
        normal.0[AXIS] = on_side.select(zero, outwards);
        let surface = on_side.select(Words::splat(simd, CURVED), face);
        self.note(simd, found, (t, surface, normal), hits);
    }

    #[inline(always)]
    fn hexagon<S: Simd, const AXIS: usize>(&self, entry: &Entry<'_, S>, hits: &mut Hits<S>) {
        let Entry { simd, rays, lanes, .. } = *entry;
        // cos and sin of 0, 60 and 120 degrees.
        const SIDES: [(f32, f32); 3] = [(1.0, 0.0), (0.5, 0.866_025_4), (-0.5, 0.866_025_4)];
        let (zero, one) = (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0));
        let (u, v) = ((AXIS + 1) % 3, (AXIS + 2) % 3);
        let from = self.since_centre(simd, rays);
        let flats = Floats::splat(simd, self.radius);
        let (mut t, mut leave) = along(simd, rays, self.bounds, AXIS);
        let (mut surface, outwards) = Self::face(simd, rays, AXIS);
        let mut normal = V3::splat(simd, [0.0; 3]);
        normal.0[AXIS] = outwards;
        for (cos, sin) in SIDES {
            let (cu, cv) = (Floats::splat(simd, cos), Floats::splat(simd, sin));
            let distance = from.0[u] * cu + from.0[v] * cv;
            let speed = rays.direction.0[u] * cu + rays.direction.0[v] * cv;
            let speed = not_zero(simd, speed);
            let (low, high) = ((-flats - distance) / speed, (flats - distance) / speed);
            let enter = low.min(high);
            let later = enter.simd_gt(t);
            t = later.select(enter, t);
            leave = leave.min(low.max(high));
            surface = later.select(Words::splat(simd, CURVED), surface);
            let side = one.copysign(-speed);
            normal.0[u] = later.select(cu * side, normal.0[u]);
            normal.0[v] = later.select(cv * side, normal.0[v]);
            normal.0[AXIS] = later.select(zero, normal.0[AXIS]);
        }
        let found = lanes & t.simd_le(leave) & t.simd_gt(zero) & t.simd_lt(hits.t);
        if found.any_true() {
            self.note(simd, found, (t, surface, normal), hits);
        }
    }
}
