//! The solids that a rig is made of. All are convex and lie along the world's axes;
//! what turns is turned as a whole, see [`crate::Assembly`].

use glam::DVec3;

/// Surface number of whatever is not a flat face across an axis; the flat faces are
/// 0 to 5: −x, +x, −y, +y, −z, +z.
pub const CURVED: u32 = 6;

/// One of the three world axes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// Towards the right face.
    X,
    /// Up.
    Y,
    /// Towards the front face.
    Z,
}

impl Axis {
    /// 0, 1 or 2.
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }
}

/// A convex solid. Any one length unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// All points between two corners.
    Box {
        /// Smallest coordinates.
        min: DVec3,
        /// Largest coordinates.
        max: DVec3,
    },
    /// A box with rounded edges and corners.
    RoundBox {
        /// Smallest coordinates.
        min: DVec3,
        /// Largest coordinates.
        max: DVec3,
        /// Radius of edges and corners; above 0, at most half the smallest side.
        radius: f64,
    },
    /// A closed cylinder along an axis.
    Cylinder {
        /// The direction of its axis.
        axis: Axis,
        /// Its centre.
        centre: DVec3,
        /// Its radius.
        radius: f64,
        /// Half its length.
        half_length: f64,
    },
    /// A closed prism with six equal sides; two of them face the axis after its own
    /// (x, y, z, x …).
    Hexagon {
        /// The direction of its axis.
        axis: Axis,
        /// Its centre.
        centre: DVec3,
        /// Half the distance of opposite sides.
        half_flats: f64,
        /// Half its length.
        half_length: f64,
    },
}

/// Distance of a hexagon's corners from its centre, for half flats of 1: 2/√3.
const HEXAGON_CORNER: f64 = 1.154_700_538_379_251_5;

impl Shape {
    /// The box around the shape.
    #[must_use]
    pub fn bounds(&self) -> (DVec3, DVec3) {
        let about = |centre: DVec3, axis: Axis, along: f64, [u, v]: [f64; 2]| {
            let mut reach = DVec3::ZERO;
            reach[axis.index()] = along;
            reach[(axis.index() + 1) % 3] = u;
            reach[(axis.index() + 2) % 3] = v;
            (centre - reach, centre + reach)
        };
        match *self {
            Self::Box { min, max } | Self::RoundBox { min, max, .. } => (min, max),
            Self::Cylinder { axis, centre, radius, half_length } => {
                about(centre, axis, half_length, [radius; 2])
            }
            Self::Hexagon { axis, centre, half_flats, half_length } => {
                about(centre, axis, half_length, [half_flats, half_flats * HEXAGON_CORNER])
            }
        }
    }

    /// Whether a point is inside.
    #[must_use]
    pub fn contains(&self, point: DVec3) -> bool {
        let (min, max) = self.bounds();
        let across = |axis: Axis, centre: DVec3| {
            let offset = point - centre;
            (offset[(axis.index() + 1) % 3], offset[(axis.index() + 2) % 3])
        };
        let in_box = point.cmpge(min).all() && point.cmple(max).all();
        in_box
            && match *self {
                Self::Box { .. } => true,
                Self::RoundBox { radius, .. } => {
                    let inner = (max - min) / 2.0 - radius;
                    let beyond = ((point - (min + max) / 2.0).abs() - inner).max(DVec3::ZERO);
                    beyond.length_squared() <= radius * radius
                }
                Self::Cylinder { axis, centre, radius, .. } => {
                    let (u, v) = across(axis, centre);
                    u * u + v * v <= radius * radius
                }
                Self::Hexagon { axis, centre, half_flats, .. } => {
                    let (u, v) = across(axis, centre);
                    u.abs() / 2.0 + v.abs() * 3f64.sqrt() / 2.0 <= half_flats
                }
            }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_inside_or_not() {
        let (min, max) = (DVec3::splat(-2.0), DVec3::splat(2.0));
        let corner = DVec3::splat(1.9);
        assert!(Shape::Box { min, max }.contains(corner));
        let round = Shape::RoundBox { min, max, radius: 0.5 };
        assert!(!round.contains(corner) && round.contains(DVec3::new(1.9, 1.0, 0.0)));
        let centre = DVec3::new(0.0, 10.0, 0.0);
        let rod = Shape::Cylinder { axis: Axis::Y, centre, radius: 2.0, half_length: 3.0 };
        assert!(rod.contains(DVec3::new(1.0, 8.0, 1.0)));
        assert!(
            !rod.contains(DVec3::new(1.0, 6.9, 1.0)) && !rod.contains(DVec3::new(1.6, 8.0, 1.6))
        );
        // Along y the flats face z, corners lie on x.
        let hexagon = Shape::Hexagon { axis: Axis::Y, centre, half_flats: 2.0, half_length: 3.0 };
        assert!(hexagon.contains(DVec3::new(2.2, 10.0, 0.0)));
        assert!(!hexagon.contains(DVec3::new(0.0, 10.0, 2.05)));
        assert!(!hexagon.contains(DVec3::new(1.9, 10.0, 1.0)));
    }
}
