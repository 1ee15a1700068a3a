//! Boxes and cylinders along the world axes, and rays against them.

use glam::DVec3;

/// A half-line; `direction` need not have unit length, `t` counts in it.
#[derive(Clone, Copy, Debug)]
pub struct Ray {
    /// Where the ray starts.
    pub origin: DVec3,
    /// Where it goes.
    pub direction: DVec3,
}

impl Ray {
    /// The point at parameter `t`.
    #[must_use]
    pub fn at(&self, t: f64) -> DVec3 {
        self.origin + self.direction * t
    }
}

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

/// A solid aligned with the world axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// All points between two corners.
    Box {
        /// Smallest coordinates.
        min: DVec3,
        /// Largest coordinates.
        max: DVec3,
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
}

/// Where a ray enters a solid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// Ray parameter of the entry point.
    pub t: f64,
    /// Outward unit normal there.
    pub normal: DVec3,
}

/// Entry and exit of a ray through the slab `[min, max]` along one coordinate. A
/// ray along the slab is in it for ever or never.
fn slab(origin: f64, inverse: f64, min: f64, max: f64) -> (f64, f64) {
    if inverse.is_infinite() {
        let inside = (min..=max).contains(&origin);
        let never = (f64::INFINITY, f64::NEG_INFINITY);
        return if inside { (f64::NEG_INFINITY, f64::INFINITY) } else { never };
    }
    let (a, b) = ((min - origin) * inverse, (max - origin) * inverse);
    if a < b { (a, b) } else { (b, a) }
}

/// Entry parameter into a box and the axis of the face entered; `None` if the
/// ray misses it. The entry is negative when the ray starts inside.
pub(crate) fn enter_box(
    origin: DVec3,
    inverse: DVec3,
    min: DVec3,
    max: DVec3,
) -> Option<(f64, usize)> {
    let (mut near, mut far, mut entered) = (f64::NEG_INFINITY, f64::INFINITY, 0);
    for k in 0..3 {
        let (a, b) = slab(origin[k], inverse[k], min[k], max[k]);
        if a > near {
            (near, entered) = (a, k);
        }
        if b < far {
            far = b;
        }
    }
    (near <= far && far >= 0.0).then_some((near, entered))
}

impl Shape {
    /// The box around the shape.
    #[must_use]
    pub fn bounds(&self) -> (DVec3, DVec3) {
        match *self {
            Shape::Box { min, max } => (min, max),
            Shape::Cylinder { axis, centre, radius, half_length } => {
                let mut reach = DVec3::splat(radius);
                reach[axis.index()] = half_length;
                (centre - reach, centre + reach)
            }
        }
    }

    /// Whether a point is inside.
    #[must_use]
    pub fn contains(&self, point: DVec3) -> bool {
        match *self {
            Shape::Box { min, max } => point.cmpge(min).all() && point.cmple(max).all(),
            Shape::Cylinder { axis, centre, radius, half_length } => {
                let mut offset = point - centre;
                let along = offset[axis.index()];
                offset[axis.index()] = 0.0;
                along.abs() <= half_length && offset.length_squared() <= radius * radius
            }
        }
    }

    /// The first entry with `0 < t < limit` into the solid from outside.
    #[must_use]
    pub fn hit(&self, ray: &Ray, limit: f64) -> Option<Hit> {
        let hit = match *self {
            Shape::Box { min, max } => {
                let (t, k) = enter_box(ray.origin, ray.direction.recip(), min, max)?;
                let mut normal = DVec3::ZERO;
                normal[k] = -ray.direction[k].signum();
                Hit { t, normal }
            }
            Shape::Cylinder { axis, centre, radius, half_length } => {
                enter_cylinder(ray, axis.index(), centre, radius, half_length)?
            }
        };
        (hit.t > 0.0 && hit.t < limit).then_some(hit)
    }
}

fn enter_cylinder(
    ray: &Ray,
    k: usize,
    centre: DVec3,
    radius: f64,
    half_length: f64,
) -> Option<Hit> {
    let offset = ray.origin - centre;
    let (u, v) = ((k + 1) % 3, (k + 2) % 3);
    let (du, dv) = (ray.direction[u], ray.direction[v]);
    let (ou, ov) = (offset[u], offset[v]);
    let a = du * du + dv * dv;
    let b = ou * du + ov * dv;
    let c = ou * ou + ov * ov - radius * radius;
    let (round_near, round_far) = if a > 0.0 {
        let discriminant = b * b - a * c;
        if discriminant < 0.0 {
            return None;
        }
        let root = discriminant.sqrt();
        ((-b - root) / a, (-b + root) / a)
    } else if c > 0.0 {
        return None;
    } else {
        (f64::NEG_INFINITY, f64::INFINITY)
    };
    let inverse = 1.0 / ray.direction[k];
    let (cap_near, cap_far) = slab(offset[k], inverse, -half_length, half_length);
    if round_near.max(cap_near) > round_far.min(cap_far) {
        return None;
    }
    let mut normal = DVec3::ZERO;
    if cap_near > round_near {
        normal[k] = -ray.direction[k].signum();
        Some(Hit { t: cap_near, normal })
    } else {
        let on_side = offset + ray.direction * round_near;
        normal[u] = on_side[u] / radius;
        normal[v] = on_side[v] / radius;
        Some(Hit { t: round_near, normal })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ray(origin: [f64; 3], direction: [f64; 3]) -> Ray {
        Ray { origin: origin.into(), direction: direction.into() }
    }

    #[test]
    fn box_is_entered_at_the_near_face() {
        let shape = Shape::Box { min: DVec3::splat(-1.0), max: DVec3::splat(1.0) };
        let hit = shape.hit(&ray([5.0, 0.2, 0.3], [-1.0, 0.0, 0.0]), f64::INFINITY).unwrap();
        assert_eq!((hit.t, hit.normal), (4.0, DVec3::X));
        assert_eq!(shape.hit(&ray([5.0, 2.0, 0.0], [-1.0, 0.0, 0.0]), f64::INFINITY), None);
        assert_eq!(shape.hit(&ray([5.0, 0.0, 0.0], [1.0, 0.0, 0.0]), f64::INFINITY), None);
        assert_eq!(shape.hit(&ray([5.0, 0.2, 0.3], [-1.0, 0.0, 0.0]), 3.0), None);
    }

    #[test]
    fn a_ray_in_the_plane_of_a_face_hits() {
        let shape = Shape::Box { min: DVec3::splat(-1.0), max: DVec3::splat(1.0) };
        for zero in [0.0, -0.0] {
            for height in [-1.0, 1.0] {
                let hit = shape.hit(&ray([5.0, height, 0.0], [-1.0, zero, zero]), f64::INFINITY);
                assert_eq!(hit.map(|hit| hit.t), Some(4.0));
            }
        }
        assert_eq!(shape.hit(&ray([5.0, 1.1, 0.0], [-1.0, 0.0, 0.0]), f64::INFINITY), None);
    }

    #[test]
    fn cylinder_is_entered_by_side_and_by_cap() {
        let shape = Shape::Cylinder {
            axis: Axis::Y,
            centre: DVec3::new(0.0, 10.0, 0.0),
            radius: 2.0,
            half_length: 3.0,
        };
        let side = shape.hit(&ray([5.0, 9.0, 0.0], [-1.0, 0.0, 0.0]), f64::INFINITY).unwrap();
        assert_eq!((side.t, side.normal), (3.0, DVec3::X));
        let cap = shape.hit(&ray([1.0, 20.0, 0.5], [0.0, -1.0, 0.0]), f64::INFINITY).unwrap();
        assert_eq!((cap.t, cap.normal), (7.0, DVec3::Y));
        assert_eq!(shape.hit(&ray([2.1, 20.0, 0.0], [0.0, -1.0, 0.0]), f64::INFINITY), None);
        assert!(shape.contains(DVec3::new(1.0, 8.0, 1.0)));
        assert!(!shape.contains(DVec3::new(1.0, 6.9, 1.0)));
    }
}
