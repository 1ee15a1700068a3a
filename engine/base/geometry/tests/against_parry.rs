//! Sixteen rays at a time against the parry3d crate (double precision, its own
//! algorithms), which is built for collision detection and knows nothing of ours.

use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, Mask, Rays, V3, Words};
use dryturn_geometry::{
    Assembly, Axis, DMat3, DVec3, Level, Shape, Simd, Spin, Turning, dispatch, rotation,
};
use dryturn_units::maths;
use dryturn_units::noise::{Noise, Seed};
use parry3d_f64::glamx::DRot3;
use parry3d_f64::math::{Pose, Vector};
use parry3d_f64::query::{Ray, RayCast};
use parry3d_f64::shape::{ConvexPolyhedron, Cuboid, Cylinder, RoundCuboid};

struct Met {
    t: f32,
    solid: u32,
    normal: [f32; 3],
    clear: bool,
}

fn ask<S: Simd>(
    simd: S,
    assembly: &Assembly,
    rays: &[(DVec3, DVec3)],
    angle: Option<f64>,
) -> Vec<Met> {
    let lane = |of: fn(&(DVec3, DVec3)) -> DVec3, k: usize| {
        Floats::from_fn(simd, |i| of(&rays[i])[k] as f32)
    };
    let from = V3([0, 1, 2].map(|k| lane(|r| r.0, k)));
    let along = V3([0, 1, 2].map(|k| lane(|r| r.1, k)));
    let rays = Rays::new(simd, from, along, Words::splat(simd, u32::MAX));
    let spin = |angle: f64| Spin {
        cos: Floats::splat(simd, maths::cos(angle) as f32),
        sin: Floats::splat(simd, maths::sin(angle) as f32),
    };
    let spins: Vec<Spin<S>> = angle.map(spin).into_iter().collect();
    let live = Mask::splat(simd, true);
    let hits = assembly.nearest(simd, &rays, &spins, live);
    let clear = assembly.clear(simd, &rays, &spins, live).to_bitmask();
    (0..LANES)
        .map(|i| Met {
            t: hits.t[i],
            solid: hits.solid[i],
            normal: hits.normal.0.map(|c| c[i]),
            clear: clear >> i & 1 == 1,
        })
        .collect()
}

/// Distance along the ray and outward normal, by parry.
fn parry(shape: &Shape, from: DVec3, along: DVec3) -> Option<(f64, DVec3)> {
    let (min, max) = shape.bounds();
    let (centre, half) = ((min + max) / 2.0, (max - min) / 2.0);
    let v = |v: DVec3| Vector::new(v.x, v.y, v.z);
    let ray = Ray::new(v(from), v(along));
    let pose = Pose::from_parts(v(centre), DRot3::IDENTITY);
    let hit = match *shape {
        Shape::Box { .. } => Cuboid::new(v(half)).cast_ray_and_get_normal(&pose, &ray, 1e9, true),
        Shape::RoundBox { radius, .. } => {
            let inner_shape = Cuboid::new(v(half - radius));
            RoundCuboid { inner_shape, border_radius: radius }
                .cast_ray_and_get_normal(&pose, &ray, 1e9, true)
        }
        Shape::Cylinder { axis, radius, half_length, .. } => {
            // Parry's cylinders stand along y.
            let turn = match axis {
                Axis::X => DRot3::from_rotation_z(core::f64::consts::FRAC_PI_2),
                Axis::Y => DRot3::IDENTITY,
                Axis::Z => DRot3::from_rotation_x(core::f64::consts::FRAC_PI_2),
            };
            let pose = Pose::from_parts(v(centre), turn);
            Cylinder::new(half_length, radius).cast_ray_and_get_normal(&pose, &ray, 1e9, true)
        }
        Shape::Hexagon { axis, half_flats, half_length, .. } => {
            let corner = half_flats * 2.0 / 3f64.sqrt();
            let points: Vec<Vector> = (0..12)
                .map(|i| {
                    let angle = (f64::from(i / 2) * 60.0 + 30.0).to_radians();
                    let mut p = DVec3::ZERO;
                    p[axis.index()] = if i % 2 == 0 { half_length } else { -half_length };
                    p[(axis.index() + 1) % 3] = corner * maths::cos(angle);
                    p[(axis.index() + 2) % 3] = corner * maths::sin(angle);
                    v(p)
                })
                .collect();
            ConvexPolyhedron::from_convex_hull(&points)
                .expect("a hull")
                .cast_ray_and_get_normal(&pose, &ray, 1e9, true)
        }
    }?;
    let n = hit.normal;
    Some((hit.time_of_impact, DVec3::new(n.x, n.y, n.z)))
}

fn vector(noise: &mut Noise, reach: f64) -> DVec3 {
    DVec3::from_array([0; 3].map(|_| noise.between(-reach, reach)))
}

fn solids(noise: &mut Noise) -> Vec<Shape> {
    (0..48)
        .map(|i| {
            let centre = vector(noise, 60.0);
            let half = vector(noise, 4.0).abs() + 3.0;
            let (min, max) = (centre - half, centre + half);
            let axis = [Axis::X, Axis::Y, Axis::Z][i / 4 % 3];
            match i % 4 {
                0 => Shape::Box { min, max },
                1 => Shape::RoundBox { min, max, radius: noise.between(0.5, 3.0) },
                2 => Shape::Cylinder { axis, centre, radius: half.x, half_length: half.y },
                _ => Shape::Hexagon { axis, centre, half_flats: half.x, half_length: half.y },
            }
        })
        .collect()
}

/// Compares many rays; `back` brings a world vector to where the solids are at rest.
fn compare(assembly: &Assembly, shapes: &[Shape], noise: &mut Noise, angle: Option<f64>) -> usize {
    let level = Level::new();
    let back = angle.map_or(DMat3::IDENTITY, |a| rotation(DVec3::Y * -a));
    let (mut met, mut grazing) = (0, 0);
    for _ in 0..400 {
        let rays: Vec<(DVec3, DVec3)> = (0..LANES)
            .map(|_| {
                let (from, to) = (vector(noise, 1.0).normalize() * 200.0, vector(noise, 60.0));
                (from, (to - from).normalize() * 400.0)
            })
            .collect();
        let found = dispatch!(level, simd => ask(simd, assembly, &rays, angle));
        for (found, &(from, along)) in found.iter().zip(&rays) {
            let (from, along) = (back * from, back * along);
            let wanted = shapes
                .iter()
                .enumerate()
                .filter_map(|(i, shape)| Some((i, parry(shape, from, along)?)))
                .min_by(|a, b| a.1.0.total_cmp(&b.1.0));
            let Some((solid, (t, normal))) = wanted else {
                grazing += usize::from(found.solid != u32::MAX);
                continue;
            };
            met += 1;
            if found.solid as usize != solid {
                grazing += 1;
                continue;
            }
            assert!(!found.clear, "what is met blocks the way");
            let slope = along.normalize().dot(normal).abs();
            // 400 mm a unit: single precision leaves some 0.02 µm/mm, more at a slant.
            let error = (f64::from(found.t) - t).abs() * 400.0;
            assert!(error < 2e-3 / slope.max(0.02), "{t}: {error} mm off, slope {slope}");
            let own = DVec3::from_array(found.normal.map(f64::from));
            let off = ((back * own) - normal).length();
            if off > 0.02 {
                grazing += 1;
            }
        }
    }
    // Edges and tangents, where the last bit decides.
    assert!(grazing * 500 < met, "{grazing} of {met} differ");
    met
}

#[test]
fn rays_meet_what_parry_says() {
    let mut noise = Seed::new(7).stream("against-parry", 0, 0);
    let shapes = solids(&mut noise);
    let assembly = Assembly::new(shapes.clone(), Vec::new());
    let met = compare(&assembly, &shapes, &mut noise, None);
    assert!(met > 2000, "{met}");
}

#[test]
fn turned_solids_are_met_where_they_are() {
    let mut noise = Seed::new(8).stream("against-parry", 0, 0);
    let shapes = solids(&mut noise);
    let turning = Turning { axis: Axis::Y, shapes: (0..).zip(shapes.clone()).collect() };
    let assembly = Assembly::new(Vec::new(), vec![turning]);
    let met = compare(&assembly, &shapes, &mut noise, Some(0.7));
    assert!(met > 2000, "{met}");
}

/// The widest instructions and the narrowest give the same bits.
#[test]
fn every_processor_gives_the_same_bits() {
    let mut noise = Seed::new(9).stream("same-bits", 0, 0);
    let assembly = Assembly::new(solids(&mut noise), Vec::new());
    let levels = [Level::new(), Level::baseline()];
    for _ in 0..200 {
        let rays: Vec<(DVec3, DVec3)> = (0..LANES)
            .map(|_| {
                let (from, to) = (vector(&mut noise, 200.0), vector(&mut noise, 60.0));
                (from, to - from)
            })
            .collect();
        let bits = levels.map(|level| -> Vec<_> {
            let found = dispatch!(level, simd => ask(simd, &assembly, &rays, None));
            found.iter().map(|m| (m.t.to_bits(), m.solid, m.normal.map(f32::to_bits))).collect()
        });
        assert_eq!(bits[0], bits[1]);
    }
}
