//! How much of each light reaches the cube's faces past what stands in the way, with every
//! layer at rest: a matter of the drawing alone.

use core::f64::consts::{PI, TAU};

use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, Mask, Rays, V3, Words};
use dryturn_geometry::{DVec3, Level, Simd, dispatch};
use dryturn_units::maths;

use crate::faces::{Faces, Fallen, Falling, Node, OnFace};
use crate::file::{Lamp, LampShape};
use crate::lamp::Panel;
use crate::rig::Rig;
use crate::scene::Scene;

/// Ways to a light from each node.
const WAYS: usize = 192;
/// Ways into the room end so far off, mm.
const ROOM_MM: f64 = 1e5;
/// A node with something so near before it lies under it, mm.
const UNDER_MM: f64 = 1e-3;

/// Falling of the room's light and of every lamp's, each worked out where it is first asked
/// for.
pub(crate) struct Shading {
    faces: Faces,
    room: Falling,
    lamps: Vec<Falling>,
}

impl Shading {
    pub(crate) fn of(rig: &Rig, lamps: &[Lamp]) -> Self {
        let faces = Faces::of(rig);
        let room = Falling::of(&faces);
        let lamps = lamps.iter().map(|_| Falling::of(&faces)).collect();
        Self { faces, room, lamps }
    }
}

impl Scene {
    /// Where a point of a solid's flat face lies, by number of solid and face as in
    /// [`Hits`](dryturn_geometry::Hits); `None` if that is no outer face of the cube.
    #[must_use]
    #[inline]
    pub fn on_face(&self, surface: (u32, u32), point_mm: [f32; 3]) -> Option<OnFace> {
        self.shading().faces.place(surface, point_mm)
    }

    /// How the room's light, even from all sides, falls on a point of a face at rest past
    /// shafts, motors and fixtures; the share within 0.02. `None` where it is no smooth
    /// function, as at the foot of a shaft.
    #[must_use]
    #[inline]
    pub fn room_on(&self, place: OnFace) -> Option<Fallen> {
        let Shading { faces, room, .. } = self.shading();
        room.at(faces, place, |node| self.fallen(node, 1.0, &|| room_ways(node)))
    }

    /// The same for lamp number `lamp`. `None` also at the edges of its shadows.
    ///
    /// # Panics
    /// If there is no such lamp.
    #[must_use]
    #[inline]
    pub fn lamp_on(&self, lamp: usize, place: OnFace) -> Option<Fallen> {
        let Shading { faces, lamps, .. } = self.shading();
        let of = &self.file().lamps[lamp];
        // A Lambertian lamp sends Φ cos/π to every direction, a point Φ/4π; mm² to m².
        let per_flux = if of.shape == LampShape::Point { 0.25e6 } else { 1e6 } / PI;
        lamps[lamp].at(faces, place, |node| self.fallen(node, per_flux, &|| lamp_ways(of, node)))
    }

    /// What comes by some ways, times a factor.
    fn fallen(&self, node: &Node, factor: f64, ways: &dyn Fn() -> Vec<Way>) -> Fallen {
        let mut before = node.point;
        before[node.axis] += UNDER_MM * node.outwards;
        if self.rig().shapes().iter().any(|shape| shape.contains(before)) {
            return Fallen::NOWHERE;
        }
        let [clear, all] = dispatch!(Level::new(), simd => sums(simd, self.rig(), node, &ways()));
        Fallen {
            arriving: (factor * clear / WAYS as f64) as f32,
            share: if all > 0.0 { (clear / all) as f32 } else { 1.0 },
        }
    }
}

/// From a node to a light, and how much would come that way.
struct Way {
    to: [f32; 3],
    weight: f64,
}

/// Even places in the unit square: R. Kronecker's sequence with the plastic number
/// (M. Roberts, *The Unreasonable Effectiveness of Quasirandom Sequences*, 2018; from memory).
fn places() -> impl Iterator<Item = [f64; 2]> {
    const PLASTIC: f64 = 1.324_717_957_244_746;
    let step = [1.0 / PLASTIC, 1.0 / (PLASTIC * PLASTIC)];
    (0..WAYS).map(move |i| step.map(|step| (0.5 + step * (i as f64 + 1.0)).fract()))
}

/// On the unit disc, evenly.
fn on_disc([u, v]: [f64; 2]) -> [f64; 2] {
    let (radius, angle) = (u.sqrt(), TAU * v);
    [radius * maths::cos(angle), radius * maths::sin(angle)]
}

/// Into the half space before a face, as often as the cosine says.
fn room_ways(node: &Node) -> Vec<Way> {
    let way = |place: [f64; 2]| {
        let [a, b] = on_disc(place);
        let mut to = DVec3::ZERO;
        (to[(node.axis + 1) % 3], to[(node.axis + 2) % 3]) = (a, b);
        to[node.axis] = node.outwards * (1.0 - a * a - b * b).max(0.0).sqrt();
        Way { to: (to * ROOM_MM).as_vec3().to_array(), weight: 1.0 }
    };
    places().map(way).collect()
}

/// To places on a lamp.
fn lamp_ways(lamp: &Lamp, node: &Node) -> Vec<Way> {
    let panel = Panel::of(lamp);
    let mut normal = DVec3::ZERO;
    normal[node.axis] = node.outwards;
    let way = |place: [f64; 2]| {
        let [a, b] = match lamp.shape {
            LampShape::Rectangle => place.map(|v| 2.0 * v - 1.0),
            LampShape::Disc => on_disc(place),
            LampShape::Point => [0.0; 2],
        };
        let to = panel.point(a, b) - node.point;
        let (cosine, r2) = (to.dot(normal), to.length_squared());
        let sent = if lamp.shape == LampShape::Point { r2.sqrt() } else { -to.dot(panel.normal) };
        let weight = cosine.max(0.0) * sent.max(0.0) / (r2 * r2).max(1e-9);
        Way { to: to.as_vec3().to_array(), weight }
    };
    places().map(way).collect()
}

/// Weights of the clear ways, and of all.
#[inline(always)]
fn sums<S: Simd>(simd: S, rig: &Rig, node: &Node, ways: &[Way]) -> [f64; 2] {
    let origin = V3::splat(simd, node.point.as_vec3().to_array());
    let leaving = Words::splat(simd, node.solid as u32);
    let mut sums = [0.0; 2];
    for some in ways.chunks_exact(LANES) {
        let along = |k: usize| {
            let own: [f32; LANES] = core::array::from_fn(|lane| some[lane].to[k]);
            Floats::simd_from(simd, own)
        };
        let rays = Rays::new(simd, origin, V3([along(0), along(1), along(2)]), leaving);
        let clear = rig.at_rest().clear(simd, &rays, &[], Mask::splat(simd, true)).to_bitmask();
        for (lane, way) in some.iter().enumerate() {
            sums[0] += if clear >> lane & 1 == 1 { way.weight } else { 0.0 };
            sums[1] += way.weight;
        }
    }
    sums
}
