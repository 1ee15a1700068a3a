//! How much of each light reaches the cube's faces past what stands in the way, with every
//! layer at rest: a matter of the drawing alone.

use core::f64::consts::{PI, TAU};

use dryturn_cube::Facelet;
use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, Mask, Rays, V3, Words};
use dryturn_geometry::{DVec3, Level, Simd, dispatch};
use dryturn_units::maths;

use super::faces::{Faces, Fallen, Falling, Node, OnFace};
use crate::drawing::lamp::Panel;
use crate::drawing::{Part, Rig};
use crate::file::{Lamp, LampShape, SceneFile};

/// Ways to a light from each node.
const WAYS: usize = 192;
/// Points across a facelet, and ways from each, where its mean is wanted.
const POINTS: usize = 3;
const FEW_WAYS: usize = 48;
/// Ways into the room end so far off, mm.
const ROOM_MM: f64 = 1e5;
/// A node with something so near before it lies under it, mm.
const UNDER_MM: f64 = 1e-3;

/// How the room's light and every lamp's fall, each worked out where it is first asked for.
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

    /// Where a point of a solid's flat face lies, by number of solid and face; `None` if that is no
    /// outer face of the cube.
    #[inline]
    pub(crate) fn place(&self, surface: (u32, u32), point_mm: [f32; 3]) -> Option<OnFace> {
        self.faces.place(surface, point_mm)
    }

    /// How the room's light falls on a place; `None` where it is no smooth function.
    #[inline]
    pub(crate) fn room(&self, rig: &Rig, place: OnFace) -> Option<Fallen> {
        self.room.at(&self.faces, place, |node| room_at(rig, node, WAYS))
    }

    /// The same for one of the lamps, with its number.
    #[inline]
    pub(crate) fn lamp(
        &self,
        rig: &Rig,
        (number, lamp): (usize, &Lamp),
        place: OnFace,
    ) -> Option<Fallen> {
        self.lamps[number].at(&self.faces, place, |node| lamp_at(rig, lamp, node, WAYS))
    }
}

/// Illuminance of a facelet: the mean over its coloured part, of each lamp and then of the room.
pub(crate) fn illuminance_lux(rig: &Rig, file: &SceneFile, facelet: Facelet) -> Vec<f64> {
    let place = facelet.piece_position();
    let is_piece = |part: &Part| matches!(part, Part::Piece(own) if *own == place);
    let Some(solid) = rig.parts().iter().position(is_piece) else { return Vec::new() };
    let normal = DVec3::from_array(facelet.face().normal().map(f64::from));
    let axis = (0..3).find(|&k| normal[k] != 0.0).unwrap_or_default();
    let [a, b, c, _] = rig.facelet_corners_mm(facelet);
    let points = (0..POINTS * POINTS).map(|k| {
        let [u, v] = [k % POINTS, k / POINTS].map(|k| (k as f64 + 0.5) / POINTS as f64);
        b + (a - b) * u + (c - b) * v
    });
    let nodes: Vec<Node> =
        points.map(|point| Node { solid, point, axis, outwards: normal[axis] }).collect();
    let mean = |at: &dyn Fn(&Node) -> Fallen| {
        // Under the foot of a shaft nothing is seen.
        let free = nodes.iter().map(|node| f64::from(at(node).arriving)).filter(|v| !v.is_nan());
        let (sum, count) = free.fold((0.0, 0.0), |(sum, n), own| (sum + own, n + 1.0));
        sum / f64::max(count, 1.0)
    };
    let room = file.surroundings.ambient_lux * mean(&|node| room_at(rig, node, FEW_WAYS));
    let lamps = file.lamps.iter();
    lamps
        .map(|lamp| lamp.flux_lm * mean(&|node| lamp_at(rig, lamp, node, FEW_WAYS)))
        .chain([room])
        .collect()
}

fn room_at(rig: &Rig, node: &Node, ways: usize) -> Fallen {
    fallen(rig, node, 1.0, &|| room_ways(node, ways))
}

fn lamp_at(rig: &Rig, lamp: &Lamp, node: &Node, ways: usize) -> Fallen {
    // A Lambertian lamp sends Φ cos/π to every direction, a point Φ/4π; mm² to m².
    let per_flux = if lamp.shape == LampShape::Point { 0.25e6 } else { 1e6 } / PI;
    fallen(rig, node, per_flux, &|| lamp_ways(lamp, node, ways))
}

/// What comes by some ways, times a factor.
fn fallen(rig: &Rig, node: &Node, factor: f64, ways: &dyn Fn() -> Vec<Way>) -> Fallen {
    let mut before = node.point;
    before[node.axis] += UNDER_MM * node.outwards;
    if rig.shapes().iter().any(|shape| shape.contains(before)) {
        return Fallen::NOWHERE;
    }
    let ways = ways();
    let [clear, all] = dispatch!(Level::new(), simd => sums(simd, rig, node, &ways));
    Fallen {
        arriving: (factor * clear / ways.len() as f64) as f32,
        share: if all > 0.0 { (clear / all) as f32 } else { 1.0 },
    }
}

/// From a node to a light, and how much would come that way.
struct Way {
    to: [f32; 3],
    weight: f64,
}

/// Even places in the unit square: R. Kronecker's sequence with the plastic number
/// (M. Roberts, *The Unreasonable Effectiveness of Quasirandom Sequences*, 2018; from memory).
fn places(number: usize) -> impl Iterator<Item = [f64; 2]> {
    const PLASTIC: f64 = 1.324_717_957_244_746;
    let step = [1.0 / PLASTIC, 1.0 / (PLASTIC * PLASTIC)];
    (0..number).map(move |i| step.map(|step| (0.5 + step * (i as f64 + 1.0)).fract()))
}

/// On the unit disc, evenly.
fn on_disc([u, v]: [f64; 2]) -> [f64; 2] {
    let (radius, angle) = (u.sqrt(), TAU * v);
    [radius * maths::cos(angle), radius * maths::sin(angle)]
}

/// Into the half space before a face, as often as the cosine says.
fn room_ways(node: &Node, number: usize) -> Vec<Way> {
    let way = |place: [f64; 2]| {
        let [a, b] = on_disc(place);
        let mut to = DVec3::ZERO;
        (to[(node.axis + 1) % 3], to[(node.axis + 2) % 3]) = (a, b);
        to[node.axis] = node.outwards * (1.0 - a * a - b * b).max(0.0).sqrt();
        Way { to: (to * ROOM_MM).as_vec3().to_array(), weight: 1.0 }
    };
    places(number).map(way).collect()
}

/// To places on a lamp.
fn lamp_ways(lamp: &Lamp, node: &Node, number: usize) -> Vec<Way> {
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
    places(number).map(way).collect()
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

#[cfg(test)]
mod tests {
    use dryturn_units::noise::{Noise, Seed};

    use super::*;
    use crate::Scene;

    fn scene(text: &str, change: impl FnOnce(&mut crate::file::SceneFile)) -> Scene {
        let scene = Scene::parse(text, "shading.ron").unwrap_or_else(|error| panic!("{error}"));
        let mut file = scene.file().clone();
        change(&mut file);
        scene.with_file(file).unwrap_or_else(|error| panic!("{error}"))
    }

    /// A point of a random outer face, as a node of its own, and where it lies.
    fn anywhere(scene: &Scene, noise: &mut Noise) -> (Node, OnFace) {
        let faces = &scene.shading().faces;
        let (mut node, number) = faces.somewhere(noise.between(0.0, 1.0));
        for k in [(node.axis + 1) % 3, (node.axis + 2) % 3] {
            let (low, high) = scene.rig().shapes()[node.solid].bounds();
            node.point[k] = low[k] + noise.between(0.01, 0.99) * (high[k] - low[k]);
        }
        let surface = (node.solid as u32, number);
        let place = scene.on_face(surface, node.point.as_vec3().to_array()).unwrap();
        (node, place)
    }

    /// With nothing in its way a lamp's light is the closed form of Lambert's (as in
    /// [`Panel::irradiance_over_radiance_exact`], which other programs have checked): within 2 %
    /// also where part of the lamp is below the horizon.
    #[test]
    fn a_lamp_without_shadows_is_the_closed_form() {
        let text = include_str!("../../../../../scenes/workbench.ron");
        let scene = scene(text, |file| {
            file.fixtures.clear();
            for camera in &mut file.cameras {
                camera.white_balance = crate::file::WhiteBalance::Fixed;
            }
            file.shafts.iter_mut().for_each(|shaft| shaft.fitted = false);
        });
        let panel = Panel::of(&scene.file().lamps[0]);
        let area_mm2 = 4.0 * panel.half_across.cross(panel.half_up).length();
        let mut noise = Seed::new(5).stream("shading", 0, 0);
        let mut lit = 0;
        for _ in 0..300 {
            let (node, place) = anywhere(&scene, &mut noise);
            let mut normal = DVec3::ZERO;
            normal[node.axis] = node.outwards;
            let exact =
                1e6 * panel.irradiance_over_radiance_exact(node.point, normal) / (PI * area_mm2);
            let found = scene.lamp_on(0, place).map(|fallen| f64::from(fallen.arriving));
            let off = found.map(|found| (found - exact).abs());
            assert!(off.is_some_and(|off| off <= 0.02 * exact), "{found:?} {exact} {normal}");
            lit += usize::from(exact > 0.0);
        }
        assert!(lit > 80, "{lit}");
    }

    /// Between the nodes, and with few ways, the share is near the one of very many ways at
    /// the point itself.
    #[test]
    fn few_ways_on_a_grid_are_near_to_many_at_the_point() {
        let scene = scene(include_str!("../../../../../scenes/foyer_morning.ron"), |_| {});
        let mut noise = Seed::new(6).stream("shading", 0, 0);
        let mut off: Vec<f64> = Vec::new();
        for _ in 0..250 {
            let (node, place) = anywhere(&scene, &mut noise);
            let mut compare = |found: Option<Fallen>, many: Fallen| {
                off.extend(found.map(|found| f64::from((found.share - many.share).abs())));
            };
            compare(scene.room_on(place), room_at(scene.rig(), &node, 1 << 12));
            for (k, lamp) in scene.file().lamps.iter().enumerate() {
                compare(scene.lamp_on(k, place), lamp_at(scene.rig(), lamp, &node, 1 << 12));
            }
        }
        off.sort_by(f64::total_cmp);
        let at = |share: f64| off[(share * (off.len() - 1) as f64) as usize];
        let mean = off.iter().sum::<f64>() / off.len() as f64;
        assert!(off.len() > 750, "{}", off.len());
        assert!(
            mean < 0.005 && at(0.99) < 0.02 && at(1.0) < 0.06,
            "{mean} {} {}",
            at(0.99),
            at(1.0)
        );
    }
}
