//! What of a rig is in the way of something else.

use dryturn_cube::Face;
use dryturn_geometry::DVec3;

use super::rig::Rig;
use super::solids::Part;

impl Rig {
    /// Whether a point is inside a solid or inside the cube's outer box; says which.
    #[must_use]
    pub fn solid_at(&self, point: DVec3) -> Option<&'static str> {
        if point.abs().max_element() <= self.half_mm() {
            return Some("the cube");
        }
        let inside = self.shapes().iter().position(|shape| shape.contains(point))?;
        Some(match self.parts()[inside] {
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
            .parts()
            .iter()
            .zip(self.shapes())
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
        let reach = self.half_mm() * core::f64::consts::SQRT_2;
        let solids = self.parts().iter().zip(self.shapes());
        let in_the_way = solids.filter_map(|(part, shape)| {
            let Part::Fixture(i) = part else { return None };
            let (min, max) = shape.bounds();
            let nearest = DVec3::ZERO.clamp(min, max);
            let touches = |k: usize| {
                let mut across = nearest;
                across[k] = 0.0;
                nearest[k].abs() < self.half_mm() && across.length() < reach
            };
            (0..3).any(touches).then_some(*i)
        });
        in_the_way.collect()
    }
}

fn overlap(a: &(DVec3, DVec3), b: &(DVec3, DVec3)) -> bool {
    a.0.cmplt(b.1).all() && b.0.cmplt(a.1).all()
}
