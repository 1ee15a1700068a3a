//! The solids that a rig is made of, from the figures of its file.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::{Axis, DVec3, Shape};

use super::material::{Look, Material};
use crate::file::{Body, Cube, Fixture, FixtureShape, MotorBody, SceneFile, Section, Shaft};

/// What a solid is part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The piece at a place, each coordinate −1, 0 or 1.
    Piece([i32; 3]),
    /// Rod, coupler or cap of a face's shaft.
    Shaft(Face),
    /// The motor of a face.
    Motor(Face),
    /// A fixture, by its place in the scene's list.
    Fixture(usize),
}

pub(super) fn vector(v: [i32; 3]) -> DVec3 {
    DVec3::from_array(v.map(f64::from))
}

/// The axis across a face.
#[must_use]
pub fn axis_of(face: Face) -> Axis {
    [Axis::Y, Axis::X, Axis::Z][face.index() % 3]
}

/// A prism of a section along an axis.
fn prism(section: Section, axis: Axis, (from, to): (DVec3, DVec3), width: f64) -> Shape {
    let (centre, half_length) = ((from + to) / 2.0, (to - from).length() / 2.0);
    match section {
        Section::Round => Shape::Cylinder { axis, centre, radius: width / 2.0, half_length },
        Section::Hexagon => Shape::Hexagon { axis, centre, half_flats: width / 2.0, half_length },
        Section::Square => {
            let mut half = DVec3::splat(width / 2.0);
            half[axis.index()] = half_length;
            Shape::Box { min: centre - half, max: centre + half }
        }
    }
}

fn fixture_shape(fixture: &Fixture) -> Shape {
    let (centre, size) = (DVec3::from(fixture.position_mm), DVec3::from(fixture.size_mm));
    let cylinder = |axis: Axis| {
        let [a, b] = [1, 2].map(|k| size[(axis.index() + k) % 3]);
        let half_length = size[axis.index()] / 2.0;
        Shape::Cylinder { axis, centre, radius: a.min(b) / 2.0, half_length }
    };
    match fixture.shape {
        FixtureShape::Block => Shape::Box { min: centre - size / 2.0, max: centre + size / 2.0 },
        FixtureShape::CylinderX => cylinder(Axis::X),
        FixtureShape::CylinderY => cylinder(Axis::Y),
        FixtureShape::CylinderZ => cylinder(Axis::Z),
    }
}

/// The solids, what they are part of and what they look like.
#[derive(Default)]
pub(super) struct Solids {
    pub(super) parts: Vec<Part>,
    pub(super) shapes: Vec<Shape>,
    pub(super) looks: Vec<Look>,
}

impl Solids {
    /// Of a scene whose cube's pieces and coloured squares have these halves of edges, and whose
    /// faces are so far from the cube's centre, mm.
    pub(super) fn of(
        scene: &SceneFile,
        (piece_half, facelet_half): (f64, f64),
        half_mm: f64,
    ) -> Self {
        let mut solids = Self::default();
        solids.pieces(&scene.cube, piece_half, facelet_half);
        for shaft in scene.shafts.iter().filter(|shaft| shaft.fitted) {
            solids.shaft(shaft, half_mm);
        }
        for (i, fixture) in scene.fixtures.iter().enumerate() {
            let look = Look::plain(Material::fixture(i));
            solids.add(Part::Fixture(i), fixture_shape(fixture), look);
        }
        solids
    }

    fn add(&mut self, part: Part, shape: Shape, look: Look) {
        self.parts.push(part);
        self.shapes.push(shape);
        self.looks.push(look);
    }

    fn pieces(&mut self, cube: &Cube, piece_half: f64, facelet_half: f64) {
        let half = DVec3::splat(piece_half);
        for place in (0..27).map(|n| [n / 9 - 1, n / 3 % 3 - 1, n % 3 - 1]) {
            let centre = vector(place) * (cube.edge_mm / 3.0);
            let (min, max) = (centre - half, centre + half);
            let shape = if cube.rim_radius_mm > 0.0 {
                Shape::RoundBox { min, max, radius: cube.rim_radius_mm }
            } else {
                Shape::Box { min, max }
            };
            let mut faces = [Material::BODY; 6];
            for face in Face::ALL {
                if let Some(facelet) = Facelet::at(place, face) {
                    let positive = face.normal().iter().sum::<i32>() > 0;
                    let surface = 2 * axis_of(face).index() + usize::from(positive);
                    faces[surface] = Material::of_facelet(facelet);
                }
            }
            let look = match cube.body {
                Body::Black => Look::stickered(faces, centre, facelet_half, cube.facelet_corner_mm),
                Body::Coloured => Look::coloured(faces, centre),
            };
            self.add(Part::Piece(place), shape, look);
        }
    }

    fn shaft(&mut self, shaft: &Shaft, half_mm: f64) {
        let face = shaft.face.face();
        let (direction, axis) = (vector(face.normal()), axis_of(face));
        let span = |from: f64, to: f64| (direction * (half_mm + from), direction * (half_mm + to));
        let cap = if shaft.cap_diameter_mm > 0.0 { shaft.cap_height_mm } else { 0.0 };
        let rod = Look::plain(Material::rod(face));
        if cap > 0.0 {
            let shape = prism(Section::Round, axis, span(0.0, cap), shaft.cap_diameter_mm);
            self.add(Part::Shaft(face), shape, rod);
        }
        let coupler = span(cap, cap + shaft.coupler_length_mm);
        let shape = prism(Section::Round, axis, coupler, shaft.coupler_diameter_mm);
        self.add(Part::Shaft(face), shape, rod);
        let length = span(cap, shaft.length_mm);
        self.add(Part::Shaft(face), prism(shaft.section, axis, length, shaft.width_mm), rod);
        let motor = span(shaft.length_mm, shaft.length_mm + shaft.motor_length_mm);
        let section = match shaft.motor_body {
            MotorBody::Square => Section::Square,
            MotorBody::Round => Section::Round,
        };
        let shape = prism(section, axis, motor, shaft.motor_width_mm);
        self.add(Part::Motor(face), shape, Look::plain(Material::motor(face)));
    }
}
