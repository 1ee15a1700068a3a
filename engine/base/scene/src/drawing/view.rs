//! Cameras as drawn.

use dryturn_geometry::{DVec2, DVec3, Lens, Pose};

/// A camera as drawn: where it stands and how it projects.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Place and attitude.
    pub pose: Pose,
    /// Projection.
    pub lens: Lens,
}

impl View {
    /// Where the ray through a point of the picture goes, of length 1 along the
    /// optical axis; it starts at the pose's position. `None` where the lens model has
    /// no inverse.
    #[must_use]
    pub fn direction(&self, pixel: DVec2) -> Option<DVec3> {
        let n = self.lens.normalise(pixel)?;
        Some(self.pose.direction_to_world(DVec3::new(n.x, n.y, 1.0)))
    }

    /// Where a world point falls in the picture; `None` behind the camera.
    #[must_use]
    pub fn project(&self, world: DVec3) -> Option<DVec2> {
        self.lens.project(self.pose.to_camera(world))
    }
}
