//! The solids of the rig as the drawing has them, and what a ray meets there.

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_geometry::{Axis, Bvh, DVec3, Hit, Ray, Shape};

use crate::file::{Body, SceneFile};

/// What a solid is part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The piece at a place, each coordinate −1, 0 or 1.
    Piece([i32; 3]),
    /// Rod or coupler of a face's shaft.
    Shaft(Face),
    /// The motor of a face.
    Motor(Face),
}

/// What a picture shows at a point; also the per-pixel label.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surface {
    /// A coloured facelet.
    Facelet(Facelet),
    /// The cube's body: rims, gaps, inner walls.
    Body,
    /// A rod, a coupler or a motor.
    Shaft,
    /// None of the rig.
    Background,
}

impl Surface {
    /// The label as a byte: 0…53 facelet by index, 54 body, 55 shaft, 56 background.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::Facelet(facelet) => facelet.index() as u8,
            Self::Body => 54,
            Self::Shaft => 55,
            Self::Background => 56,
        }
    }
}

/// Number of pieces, the core's place included.
const PIECES: usize = 27;

/// The solids with trees for rays.
pub struct Rig {
    parts: Vec<Part>,
    shapes: Vec<Shape>,
    /// The pieces, which come first among the parts, and all else. Two trees,
    /// since a ray that leaves the cube misses all pieces at once.
    pieces: Bvh,
    shafts: Bvh,
    /// Half the edge of the coloured part of a piece's face.
    facelet_half_mm: f64,
    /// From one piece's centre to the next.
    pitch_mm: f64,
    /// From the cube's centre to a face.
    half_mm: f64,
}

fn vector(v: [i32; 3]) -> DVec3 {
    DVec3::from_array(v.map(f64::from))
}

impl Rig {
    /// The rig of a scene that is known to be valid.
    pub(crate) fn of(scene: &SceneFile) -> Self {
        let cube = &scene.cube;
        let pitch_mm = cube.edge_mm / 3.0;
        let piece_half = (pitch_mm - cube.gap_mm) / 2.0;
        let mut solids = Vec::new();
        for x in -1..=1 {
            for y in -1..=1 {
                for z in -1..=1 {
                    let centre = vector([x, y, z]) * pitch_mm;
                    let half = DVec3::splat(piece_half);
                    let shape = Shape::Box { min: centre - half, max: centre + half };
                    solids.push((Part::Piece([x, y, z]), shape));
                }
            }
        }
        let half_mm = pitch_mm + piece_half;
        for shaft in scene.shafts.iter().filter(|shaft| shaft.fitted) {
            let face = shaft.face.face();
            let direction = vector(face.normal());
            let block = |from: f64, to: f64, width: f64| {
                let across = (DVec3::ONE - direction.abs()) * (width / 2.0);
                let (a, b) = (direction * from, direction * to);
                Shape::Box { min: a.min(b) - across, max: a.max(b) + across }
            };
            let axis = [Axis::Y, Axis::X, Axis::Z][face.index() % 3];
            let coupler = Shape::Cylinder {
                axis,
                centre: direction * (half_mm + shaft.coupler_length_mm / 2.0),
                radius: shaft.coupler_diameter_mm / 2.0,
                half_length: shaft.coupler_length_mm / 2.0,
            };
            let motor_from = half_mm + shaft.length_mm;
            solids.push((Part::Shaft(face), coupler));
            solids.push((Part::Shaft(face), block(half_mm, motor_from, shaft.width_mm)));
            let motor = block(motor_from, motor_from + shaft.motor_length_mm, shaft.motor_width_mm);
            solids.push((Part::Motor(face), motor));
        }
        let facelet_half_mm = match cube.body {
            Body::Black => cube.facelet_edge_mm.min(2.0 * piece_half) / 2.0,
            Body::Coloured => piece_half,
        };
        let (parts, shapes): (Vec<Part>, Vec<Shape>) = solids.into_iter().unzip();
        let pieces = Bvh::new(shapes[..PIECES].to_vec());
        let shafts = Bvh::new(shapes[PIECES..].to_vec());
        Self { parts, shapes, pieces, shafts, facelet_half_mm, pitch_mm, half_mm }
    }

    /// The nearest solid that a ray meets, with what is there.
    #[must_use]
    pub fn trace(&self, ray: &Ray) -> Option<(Part, Surface, Hit)> {
        let piece = self.pieces.nearest(ray, f64::INFINITY);
        let limit = piece.map_or(f64::INFINITY, |(_, hit)| hit.t);
        let shaft = self.shafts.nearest(ray, limit).map(|(index, hit)| (PIECES + index, hit));
        let (index, hit) = shaft.or(piece)?;
        let part = self.parts[index];
        let surface = match part {
            Part::Shaft(_) | Part::Motor(_) => Surface::Shaft,
            Part::Piece(position) => self.piece_surface(position, ray.at(hit.t), hit.normal),
        };
        Some((part, surface, hit))
    }

    /// Whether anything stands between the ray's origin and `t = 1`.
    #[must_use]
    pub fn shadowed(&self, ray: &Ray) -> bool {
        self.shafts.blocked(ray, 1.0) || self.pieces.blocked(ray, 1.0)
    }

    /// Whether a point is inside a solid or inside the cube's outer box; says which.
    #[must_use]
    pub fn solid_at(&self, point: DVec3) -> Option<&'static str> {
        if point.abs().max_element() <= self.half_mm {
            return Some("the cube");
        }
        let inside = self.shapes.iter().position(|shape| shape.contains(point))?;
        Some(match self.parts[inside] {
            Part::Piece(_) => "the cube",
            Part::Shaft(_) => "a shaft",
            Part::Motor(_) => "a motor",
        })
    }

    /// Two faces whose couplers, rods or motors run into each other.
    pub(crate) fn crossing(&self) -> Option<(Face, Face)> {
        let face_of = |part: &Part| match part {
            Part::Piece(_) => None,
            Part::Shaft(face) | Part::Motor(face) => Some(*face),
        };
        let solids: Vec<(Face, (DVec3, DVec3))> = self
            .parts
            .iter()
            .zip(&self.shapes)
            .filter_map(|(part, shape)| Some((face_of(part)?, shape.bounds())))
            .collect();
        let meet =
            |a: &(DVec3, DVec3), b: &(DVec3, DVec3)| a.0.cmplt(b.1).all() && b.0.cmplt(a.1).all();
        solids.iter().enumerate().find_map(|(i, (one, a))| {
            let other = solids[..i].iter().find(|(face, b)| face != one && meet(a, b))?;
            Some((other.0, *one))
        })
    }

    /// The corners of a facelet's coloured square in the world, mm, in the order
    /// top left, top right, bottom right, bottom left of its net.
    #[must_use]
    pub fn facelet_corners_mm(&self, facelet: Facelet) -> [DVec3; 4] {
        let (right, down) = facelet.face().net_directions();
        let (right, down) = (vector(right), vector(down));
        let position = vector(facelet.piece_position());
        let normal = vector(facelet.face().normal());
        let along = position.dot(normal);
        let centre = (position - normal * along) * self.pitch_mm + normal * self.half_mm;
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(u, v)| centre + (right * u + down * v) * self.facelet_half_mm)
    }

    fn piece_surface(&self, position: [i32; 3], point: DVec3, normal: DVec3) -> Surface {
        let normal = [normal.x as i32, normal.y as i32, normal.z as i32];
        let on_face = Face::ALL
            .into_iter()
            .find(|face| face.normal() == normal)
            .and_then(|face| Facelet::at(position, face));
        let Some(facelet) = on_face else {
            return Surface::Body;
        };
        let offset = (point - vector(position) * self.pitch_mm).abs();
        let inside = (0..3).all(|k| normal[k] != 0 || offset[k] <= self.facelet_half_mm);
        if inside { Surface::Facelet(facelet) } else { Surface::Body }
    }

    /// Facelets whose colour must be seen: all but the centres, which the
    /// couplers cover and the mounting fixes.
    pub fn facelets_to_read() -> impl Iterator<Item = Facelet> + Clone {
        Facelet::all().filter(|facelet| facelet.kind() != FaceletKind::Centre)
    }
}
