//! The solids of the rig as the drawing has them.

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_geometry::{Assembly, Axis, DVec3, Shape, Turning};

use crate::file::{Body, Cube, Fixture, FixtureShape, MotorBody, SceneFile, Section, Shaft};
use crate::material::{Look, Material};

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

/// The solids, what they are part of and what they look like, and all of them
/// together with the cube at rest.
pub struct Rig {
    parts: Vec<Part>,
    shapes: Vec<Shape>,
    looks: Vec<Look>,
    at_rest: Assembly,
    /// Half the edge of the coloured part of a piece's face.
    facelet_half_mm: f64,
    coloured_share: f64,
    /// From one piece's centre to the next.
    pitch_mm: f64,
    /// From the cube's centre to a face.
    half_mm: f64,
}

fn vector(v: [i32; 3]) -> DVec3 {
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

/// Solids as they are collected.
#[derive(Default)]
struct Collected {
    parts: Vec<Part>,
    shapes: Vec<Shape>,
    looks: Vec<Look>,
}

impl Collected {
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

impl Rig {
    /// The rig of a scene that is known to be valid.
    pub(crate) fn of(scene: &SceneFile) -> Self {
        let cube = &scene.cube;
        let pitch_mm = cube.edge_mm / 3.0;
        let piece_half = (pitch_mm - cube.gap_mm) / 2.0;
        let half_mm = pitch_mm + piece_half;
        let (facelet_half_mm, coloured_share) = match cube.body {
            Body::Black => {
                let half = cube.sticker_edge_mm().min(2.0 * piece_half) / 2.0;
                let corner = cube.facelet_corner_mm / (2.0 * half);
                (half, 1.0 - (4.0 - core::f64::consts::PI) * corner * corner)
            }
            Body::Coloured => {
                let half = piece_half - cube.rim_radius_mm;
                (half, piece_half * piece_half / (half * half))
            }
        };
        let mut solids = Collected::default();
        solids.pieces(cube, piece_half, facelet_half_mm);
        for shaft in scene.shafts.iter().filter(|shaft| shaft.fitted) {
            solids.shaft(shaft, half_mm);
        }
        for (i, fixture) in scene.fixtures.iter().enumerate() {
            let look = Look::plain(Material::fixture(i));
            solids.add(Part::Fixture(i), fixture_shape(fixture), look);
        }
        let Collected { parts, shapes, looks } = solids;
        let at_rest = Assembly::new(shapes.clone(), Vec::new());
        Self { parts, shapes, looks, at_rest, facelet_half_mm, coloured_share, pitch_mm, half_mm }
    }

    /// All solids with every layer at rest.
    #[must_use]
    pub fn at_rest(&self) -> &Assembly {
        &self.at_rest
    }

    /// All solids where the layers of some faces turn, each a group of its own with
    /// its rod and coupler. The faces must share an axis.
    #[must_use]
    pub fn turning(&self, faces: &[Face]) -> Assembly {
        let turns_with = |part: &Part, face: Face| match part {
            Part::Piece(place) => vector(*place).dot(vector(face.normal())) > 0.5,
            Part::Shaft(own) => *own == face,
            Part::Motor(_) | Part::Fixture(_) => false,
        };
        let numbered = || (0u32..).zip(self.parts.iter().zip(&self.shapes));
        let group = |&face: &Face| Turning {
            axis: axis_of(face),
            shapes: numbered()
                .filter(|(_, (part, _))| turns_with(part, face))
                .map(|(id, (_, shape))| (id, *shape))
                .collect(),
        };
        let still: Vec<(u32, Shape)> = numbered()
            .filter(|(_, (part, _))| !faces.iter().any(|&face| turns_with(part, face)))
            .map(|(id, (_, shape))| (id, *shape))
            .collect();
        Assembly::with_numbers(&still, faces.iter().map(group).collect())
    }

    /// What each solid looks like, by its number.
    #[must_use]
    pub fn looks(&self) -> &[Look] {
        &self.looks
    }

    /// Shape of each solid, by its number.
    #[must_use]
    pub fn shapes(&self) -> &[Shape] {
        &self.shapes
    }

    /// What each solid is part of, by its number.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts
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
            Part::Fixture(_) => "a fixture",
        })
    }

    /// Two faces whose couplers, rods or motors run into each other.
    pub(crate) fn crossing(&self) -> Option<(Face, Face)> {
        let face_of = |part: &Part| match part {
            Part::Piece(_) | Part::Fixture(_) => None,
            Part::Shaft(face) | Part::Motor(face) => Some(*face),
        };
        let solids: Vec<(Face, (DVec3, DVec3))> = self
            .parts
            .iter()
            .zip(&self.shapes)
            .filter_map(|(part, shape)| Some((face_of(part)?, shape.bounds())))
            .collect();
        solids.iter().enumerate().find_map(|(i, (one, a))| {
            let other = solids[..i].iter().find(|(face, b)| face != one && overlap(a, b))?;
            Some((other.0, *one))
        })
    }

    /// The fixtures that reach into the space that the layers need to turn: a
    /// cylinder about each axis, as long as the cube, whose radius reaches the corners.
    pub(crate) fn in_the_cubes_way(&self) -> Vec<usize> {
        let reach = self.half_mm * core::f64::consts::SQRT_2;
        let solids = self.parts.iter().zip(&self.shapes);
        let in_the_way = solids.filter_map(|(part, shape)| {
            let Part::Fixture(i) = part else { return None };
            let (min, max) = shape.bounds();
            let nearest = DVec3::ZERO.clamp(min, max);
            let touches = |k: usize| {
                let mut across = nearest;
                across[k] = 0.0;
                nearest[k].abs() < self.half_mm && across.length() < reach
            };
            (0..3).any(touches).then_some(*i)
        });
        in_the_way.collect()
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

    /// Coloured area of a facelet over that of its flat square: a sticker lacks its
    /// rounded corners, coloured plastic goes on round the rim.
    #[must_use]
    pub fn coloured_share(&self) -> f64 {
        self.coloured_share
    }

    /// From the cube's centre to a face, mm.
    #[must_use]
    pub fn half_mm(&self) -> f64 {
        self.half_mm
    }

    /// Facelets whose colour must be seen: all but the centres, which the
    /// couplers cover and the mounting fixes.
    pub fn facelets_to_read() -> impl Iterator<Item = Facelet> + Clone {
        Facelet::all().filter(|facelet| facelet.kind() != FaceletKind::Centre)
    }
}

fn overlap(a: &(DVec3, DVec3), b: &(DVec3, DVec3)) -> bool {
    a.0.cmplt(b.1).all() && b.0.cmplt(a.1).all()
}
