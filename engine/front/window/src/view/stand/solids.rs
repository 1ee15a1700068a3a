//! Meshes of the rig's solids.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use dryturn_geometry::{Axis, DVec3, Shape};

use super::{SCALE, units};

/// Steps in which a rounded edge goes from one side to the next.
const ROUND_STEPS: usize = 4;

/// What turns z into an axis, x and y into the two after it.
fn along(axis: Axis) -> Quat {
    let unit = |k: usize| Vec3::AXES[(axis.index() + k) % 3];
    Quat::from_mat3(&Mat3::from_cols(unit(1), unit(2), unit(0)))
}

fn block(min: DVec3, max: DVec3) -> (Vec3, Vec3) {
    (units(((min + max) / 2.0).to_array()), units((max - min).to_array()))
}

/// A solid's mesh, in units of the 3D world, and where it stands.
pub(super) fn mesh(shape: &Shape) -> (Mesh, Transform) {
    let mm = |v: f64| v as f32 * SCALE;
    match *shape {
        Shape::Box { min, max } => {
            let (centre, size) = block(min, max);
            (Cuboid::from_size(size).into(), Transform::from_translation(centre))
        }
        Shape::RoundBox { min, max, radius } => {
            let (centre, size) = block(min, max);
            (round_block(size / 2.0, mm(radius)), Transform::from_translation(centre))
        }
        Shape::Cylinder { axis, centre, radius, half_length } => {
            let prism = Extrusion::new(Circle::new(mm(radius)), mm(2.0 * half_length));
            let at = Transform::from_translation(units(centre.to_array()));
            (prism.into(), at.with_rotation(along(axis)))
        }
        Shape::Hexagon { axis, centre, half_flats, half_length } => {
            let corner = mm(half_flats) / (std::f32::consts::PI / 6.0).cos();
            let prism = Extrusion::new(RegularPolygon::new(corner, 6), mm(2.0 * half_length));
            let at = Transform::from_translation(units(centre.to_array()));
            (prism.into(), at.with_rotation(along(axis)))
        }
    }
}

/// A block with rounded edges and corners: each side a grid that is fine at its rim,
/// its points drawn in to the radius about the block within.
fn round_block(half: Vec3, radius: f32) -> Mesh {
    let inner = half - Vec3::splat(radius);
    let (mut positions, mut normals, mut indices) = (Vec::new(), Vec::new(), Vec::new());
    let n = ROUND_STEPS as u32;
    // From one rim of a side to the other; the flat between is one step.
    let ticks = |half: f32| -> Vec<f32> {
        let bent = |k: u32| {
            let angle = std::f32::consts::FRAC_PI_4 * k as f32 / n as f32;
            half - radius * (1.0 - angle.tan())
        };
        (0..=n).rev().map(|k| -bent(k)).chain((0..=n).map(bent)).collect()
    };
    for axis in [Axis::X, Axis::Y, Axis::Z] {
        let [w, u, v] = [0, 1, 2].map(|k| (axis.index() + k) % 3);
        for side in [-1.0, 1.0] {
            let first = positions.len() as u32;
            let (us, vs) = (ticks(half[u]), ticks(half[v]));
            for &across in &us {
                for &up in &vs {
                    let mut point = Vec3::ZERO;
                    (point[w], point[u], point[v]) = (side * half[w], across, up);
                    let core = point.clamp(-inner, inner);
                    let normal = (point - core).normalize_or_zero();
                    positions.push((core + normal * radius).to_array());
                    normals.push(normal.to_array());
                }
            }
            let columns = vs.len() as u32;
            for i in 0..us.len() as u32 - 1 {
                for j in 0..columns - 1 {
                    let a = first + i * columns + j;
                    let (b, c, d) = (a + columns, a + columns + 1, a + 1);
                    let quad = if side > 0.0 { [a, b, c, a, c, d] } else { [a, c, b, a, d, c] };
                    indices.extend(quad);
                }
            }
        }
    }
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::default())
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
        .with_inserted_indices(Indices::U32(indices))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(mesh: &Mesh) -> Vec<Vec3> {
        let positions = mesh.attribute(Mesh::ATTRIBUTE_POSITION).unwrap().as_float3().unwrap();
        positions.iter().map(|&p| Vec3::from_array(p)).collect()
    }

    /// A solid's mesh stands where the engine has the solid.
    #[test]
    fn meshes_fill_the_bounds_of_their_shapes() {
        let (a, b) = (DVec3::new(-10.0, 20.0, 3.0), DVec3::new(8.0, 44.0, 90.0));
        let centre = DVec3::new(5.0, -70.0, 12.0);
        let mut shapes =
            vec![Shape::Box { min: a, max: b }, Shape::RoundBox { min: a, max: b, radius: 2.5 }];
        for axis in [Axis::X, Axis::Y, Axis::Z] {
            shapes.push(Shape::Cylinder { axis, centre, radius: 7.0, half_length: 30.0 });
            shapes.push(Shape::Hexagon { axis, centre, half_flats: 6.0, half_length: 25.0 });
        }
        for shape in shapes {
            let (mesh, at) = mesh(&shape);
            let placed = points(&mesh).into_iter().map(|p| at.transform_point(p));
            let (low, high) =
                placed.fold((Vec3::MAX, Vec3::MIN), |(low, high), p| (low.min(p), high.max(p)));
            let (min, max) = shape.bounds();
            // A circle is a polygon here.
            let near = |a: Vec3, b: DVec3| (a - units(b.to_array())).length() < 0.005;
            assert!(near(low, min) && near(high, max), "{shape:?}: {low} {high}");
        }
    }

    #[test]
    fn a_round_block_is_closed_and_looks_outwards() {
        let mesh = round_block(Vec3::new(0.3, 0.2, 0.1), 0.05);
        let points = points(&mesh);
        let corners: Vec<usize> = mesh.indices().unwrap().iter().collect();
        let mut volume = 0.0;
        for corner in corners.chunks_exact(3) {
            let [a, b, c] = [corner[0], corner[1], corner[2]].map(|i| points[i]);
            let volume_of = a.dot(b.cross(c)) / 6.0;
            assert!(volume_of >= -1e-9, "{a} {b} {c}");
            volume += volume_of;
        }
        // Steiner's formula for the block within, grown by the radius.
        let (r, [x, y, z]) = (0.05_f32, [0.5_f32, 0.3, 0.1]);
        let exact = x * y * z
            + 2.0 * r * (x * y + y * z + z * x)
            + std::f32::consts::PI * r * r * (x + y + z)
            + 4.0 / 3.0 * std::f32::consts::PI * r.powi(3);
        assert!((volume / exact - 1.0).abs() < 0.01, "{volume} {exact}");
    }
}
