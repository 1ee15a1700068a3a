//! Where a camera stands and how it is turned.

use dryturn_units::maths;
use glam::{DMat3, DVec3};

/// A camera's place and attitude in the world.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// Rotation that takes world directions to camera directions.
    pub camera_from_world: DMat3,
    /// The camera's centre of projection in the world, in the scene's length unit.
    pub position: DVec3,
}

impl Pose {
    /// A camera at `position` that looks at `target`, with `up` upwards in the
    /// picture. `None` where `target` is the position or `up` is along the view.
    #[must_use]
    pub fn look_at(position: DVec3, target: DVec3, up: DVec3) -> Option<Self> {
        let forward = (target - position).try_normalize()?;
        let right = forward.cross(up).try_normalize()?;
        let down = forward.cross(right);
        let camera_from_world = DMat3::from_cols(right, down, forward).transpose();
        Some(Self { camera_from_world, position })
    }

    /// A world point in camera coordinates.
    #[must_use]
    pub fn to_camera(&self, world: DVec3) -> DVec3 {
        self.camera_from_world * (world - self.position)
    }

    /// A camera direction in world coordinates.
    #[must_use]
    pub fn direction_to_world(&self, camera: DVec3) -> DVec3 {
        self.camera_from_world.transpose() * camera
    }

    /// The pose after the camera has moved by `shift` (world) and turned by the
    /// rotation vector `turn_rad` (camera axes, radians): how a mount is off.
    #[must_use]
    pub fn disturbed(&self, shift: DVec3, turn_rad: DVec3) -> Self {
        Self {
            camera_from_world: rotation(turn_rad) * self.camera_from_world,
            position: self.position + shift,
        }
    }
}

/// Rotation matrix of a rotation vector: axis times angle in radians
/// (Rodrigues' formula).
#[must_use]
pub fn rotation(vector_rad: DVec3) -> DMat3 {
    let angle = vector_rad.length();
    let Some(axis) = vector_rad.try_normalize() else {
        return DMat3::IDENTITY;
    };
    let (s, c) = (maths::sin(angle), maths::cos(angle));
    let cross = DMat3::from_cols(
        DVec3::new(0.0, axis.z, -axis.y),
        DVec3::new(-axis.z, 0.0, axis.x),
        DVec3::new(axis.y, -axis.x, 0.0),
    );
    DMat3::IDENTITY + cross * s + cross * cross * (1.0 - c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn target_is_on_the_optical_axis_and_up_is_up() {
        let position = DVec3::new(100.0, 120.0, 140.0);
        let pose = Pose::look_at(position, DVec3::ZERO, DVec3::Y).expect("a valid pose");
        let target = pose.to_camera(DVec3::ZERO);
        assert!(target.x.abs() < 1e-12 && target.y.abs() < 1e-12);
        assert!((target.z - position.length()).abs() < 1e-12);
        assert!(pose.to_camera(DVec3::Y).y < 0.0, "up is towards smaller rows");
    }

    #[test]
    fn no_pose_without_a_direction() {
        assert_eq!(Pose::look_at(DVec3::X, DVec3::X, DVec3::Y), None);
        assert_eq!(Pose::look_at(DVec3::Y, DVec3::ZERO, DVec3::Y), None);
    }
}
