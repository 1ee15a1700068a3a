//! How a person looks at the rig: round it, along it, near or far.

use bevy::prelude::*;

/// Where the eye is, round a point.
#[derive(Resource, Clone, Copy, Debug, PartialEq)]
pub(crate) struct Orbit {
    /// About the vertical, radians; 0 looks from the front.
    pub(crate) yaw: f32,
    /// Above the horizon, radians.
    pub(crate) pitch: f32,
    /// From the point to the eye, units of 100 mm.
    pub(crate) distance: f32,
    /// The point that is looked at.
    pub(crate) centre: Vec3,
}

impl Default for Orbit {
    fn default() -> Self {
        Self { yaw: 0.55, pitch: 0.38, distance: 4.4, centre: Vec3::ZERO }
    }
}

impl Orbit {
    /// Turns round the point.
    pub(crate) fn turn(&mut self, yaw: f32, pitch: f32) {
        self.yaw += yaw;
        self.pitch = (self.pitch + pitch).clamp(-1.5, 1.5);
    }

    /// Moves the point across the view, by shares of the distance.
    pub(crate) fn pan(&mut self, right: f32, up: f32) {
        let eye = self.transform();
        let step = eye.right() * right + eye.up() * up;
        self.centre = (self.centre + step * self.distance).clamp_length_max(40.0);
    }

    /// Comes nearer (below 1) or goes away (above 1).
    pub(crate) fn zoom(&mut self, factor: f32) {
        self.distance = (self.distance * factor).clamp(1.2, 80.0);
    }

    /// The eye.
    pub(crate) fn transform(&self) -> Transform {
        let back = Quat::from_rotation_y(self.yaw) * Quat::from_rotation_x(-self.pitch) * Vec3::Z;
        Transform::from_translation(self.centre + back * self.distance)
            .looking_at(self.centre, Vec3::Y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_eye_stays_at_its_distance_and_upright() {
        let mut orbit = Orbit::default();
        for _ in 0..50 {
            orbit.turn(0.3, 0.2);
            let eye = orbit.transform();
            assert!((eye.translation.distance(orbit.centre) - orbit.distance).abs() < 1e-3);
            assert!(eye.up().y > 0.0);
        }
        orbit.zoom(1e9);
        assert!(orbit.distance <= 80.0);
    }
}
