//! Where lamps are: rectangles and discs that shine to one side, equally bright from
//! every direction, and points.

use dryturn_geometry::DVec3;
use dryturn_units::maths;

use crate::file::{Lamp, LampShape};

/// A lamp's rectangle: all points `centre ± half_across ± half_up`; it shines
/// to the side of `normal`. Any one length unit.
#[derive(Clone, Copy, Debug)]
pub struct Panel {
    /// Its centre.
    pub centre: DVec3,
    /// From the centre to the middle of a side edge.
    pub half_across: DVec3,
    /// From the centre to the middle of the upper edge.
    pub half_up: DVec3,
    /// Unit vector of the side that shines.
    pub normal: DVec3,
}

impl Panel {
    /// The panel of a scene's lamp, mm. Its width is level; a panel that faces
    /// straight up or down has it along x. A disc is the circle in a square panel; a
    /// point is a panel without size.
    #[must_use]
    pub fn of(lamp: &Lamp) -> Self {
        let centre = DVec3::from(lamp.position_mm);
        let (width, height) = match lamp.shape {
            LampShape::Rectangle => (lamp.width_mm, lamp.height_mm),
            LampShape::Disc => (lamp.width_mm, lamp.width_mm),
            LampShape::Point => (0.0, 0.0),
        };
        let aim = DVec3::from(lamp.aim_mm) - centre;
        let normal = aim.try_normalize().unwrap_or(DVec3::NEG_Y);
        let across = DVec3::Y.cross(normal).try_normalize().unwrap_or(DVec3::X);
        let up = normal.cross(across);
        Self { centre, half_across: across * (width / 2.0), half_up: up * (height / 2.0), normal }
    }

    /// The point with coordinates −1 to 1 on the panel.
    #[must_use]
    pub fn point(&self, across: f64, up: f64) -> DVec3 {
        self.centre + self.half_across * across + self.half_up * up
    }

    /// `cos θ cos θ′ / r²` between a receiver and a point of the panel, with the
    /// unit vector towards it; `None` where either faces away. Times radiance
    /// and area element it is irradiance.
    #[must_use]
    pub fn transfer(&self, receiver: DVec3, normal: DVec3, lamp: DVec3) -> Option<(f64, DVec3)> {
        let towards = lamp - receiver;
        let r2 = towards.length_squared();
        let direction = towards / r2.sqrt();
        let (at_receiver, at_lamp) = (direction.dot(normal), -direction.dot(self.normal));
        (at_receiver > 0.0 && at_lamp > 0.0).then(|| (at_receiver * at_lamp / r2, direction))
    }

    /// Irradiance over radiance (sr) at an unshadowed receiver, by a stratified
    /// sum of `n × n` points.
    #[must_use]
    pub fn irradiance_over_radiance(&self, receiver: DVec3, normal: DVec3, n: u32) -> f64 {
        self.sum(n, |point| self.transfer(receiver, normal, point).map_or(0.0, |(f, _)| f))
    }

    /// The same in closed form: the sum over the rectangle's edges of the angle that an
    /// edge subtends times the cosine of its plane's normal (J. H. Lambert 1760), for
    /// what of the panel is above the receiver's horizon and faces it.
    #[must_use]
    pub fn irradiance_over_radiance_exact(&self, receiver: DVec3, normal: DVec3) -> f64 {
        if (receiver - self.centre).dot(self.normal) <= 0.0 {
            return 0.0;
        }
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(across, up)| self.point(across, up) - receiver);
        let mut seen: Vec<DVec3> = Vec::with_capacity(6);
        for (k, &a) in corners.iter().enumerate() {
            let b = corners[(k + 1) % corners.len()];
            let (above_a, above_b) = (a.dot(normal), b.dot(normal));
            if above_a > 0.0 {
                seen.push(a);
            }
            if (above_a > 0.0) != (above_b > 0.0) {
                seen.push(a + (b - a) * (above_a / (above_a - above_b)));
            }
        }
        let edge = |k: usize| {
            let (a, b) = (seen[k], seen[(k + 1) % seen.len()]);
            let across = a.cross(b);
            let length = across.length();
            if length == 0.0 {
                return 0.0;
            }
            maths::atan2(length, a.dot(b)) * across.dot(normal) / length
        };
        let sum: f64 = (0..seen.len()).map(edge).sum();
        sum.abs() / 2.0
    }

    /// Integral over the panel's area of `f`, by a stratified sum of `n × n` points.
    pub fn sum(&self, n: u32, f: impl Fn(DVec3) -> f64) -> f64 {
        let at = |i: u32| (2.0 * f64::from(i) + 1.0) / f64::from(n) - 1.0;
        let total: f64 = (0..n * n).map(|k| f(self.point(at(k / n), at(k % n)))).sum();
        let area = 4.0 * self.half_across.cross(self.half_up).length();
        total * area / f64::from(n * n)
    }
}
