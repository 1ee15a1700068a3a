//! How far off its drawn place a camera may be, and what that does to its picture.

use dryturn_units::radians;

use crate::file::Tolerances;
use crate::scene::Scene;

/// How far off its drawn place a camera may be mounted without a facelet losing its
/// evidence: so many standard deviations of the scene's tolerances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MountTolerance {
    /// Standard deviations that are allowed for.
    pub sigmas_ratio: f64,
    /// Shift along each axis, mm.
    pub shift_mm: f64,
    /// Turn about each axis, degrees.
    pub turn_deg: f64,
}

impl MountTolerance {
    /// How many standard deviations of a mount's error are left out at rims: 95 % of
    /// mounts lie within, axis by axis (normal distribution).
    pub const SIGMAS: f64 = 2.0;

    /// What is allowed for where mounts are as exact as this.
    #[must_use]
    pub fn of(tolerances: &Tolerances) -> Self {
        Self {
            sigmas_ratio: Self::SIGMAS,
            shift_mm: Self::SIGMAS * tolerances.mount_shift_sigma_mm,
            turn_deg: Self::SIGMAS * tolerances.mount_turn_sigma_deg,
        }
    }
}

/// Pixels by which the picture may be shifted against the drawing: the turn shifts it
/// everywhere alike, the shift most where the cube is nearest.
pub(super) fn rim_px(scene: &Scene, camera: usize) -> usize {
    let view = &scene.views()[camera];
    let tolerances = &scene.file().tolerances;
    let focal = view.lens.focal_px.x;
    let turn = focal * radians(tolerances.mount_turn_sigma_deg);
    let cube_reach = scene.file().cube.edge_mm / 2.0 * 3.0f64.sqrt();
    let nearest_mm = (view.pose.position.length() - cube_reach).max(1.0);
    let shift = focal * tolerances.mount_shift_sigma_mm / nearest_mm;
    (MountTolerance::SIGMAS * (turn * turn + shift * shift).sqrt()).ceil() as usize + 1
}
