//! What may put a face off its stop, by the drawing.

use dryturn_handoff::AngleBudget;
use dryturn_scene::file::SceneFile;
use dryturn_units::degrees;

use super::machine::encoder_step_rad;
use crate::contact::{Interlock, Torques};
use crate::plant::Axis;
use crate::plant::shaft::Rod;

/// By how much nominal friction winds up a shaft.
pub(super) fn wind_up_rad(axis: &Axis, rod: &Rod) -> f64 {
    axis.limit.friction_n_m / rod.stiffness_n_m_rad
}

/// With three standard deviations of homing.
pub(super) fn budget(
    file: &SceneFile,
    (axis, limit_n_m): (&Axis, f64),
    rod: &Rod,
    interlock: &Interlock,
) -> AngleBudget {
    let (drive, tolerances) = (&file.drive, &file.tolerances);
    let step_deg = degrees(encoder_step_rad(drive));
    // A settled face in a turning one's way.
    let torques = Torques {
        late_friction_n_m: axis.limit.friction_n_m,
        late_hold_n_m: file.controller.hold_torque_share * limit_n_m,
        turning_friction_n_m: axis.limit.friction_n_m,
        turning_limit_n_m: limit_n_m,
    };
    AngleBudget {
        // Homing takes the non-linearity of one stop for nothing; another stop may have as
        // much of the other sign.
        encoder_deg: 0.5 * step_deg + 2.0 * tolerances.encoder_error_deg,
        homing_deg: 3.0 * tolerances.homing_error_sigma_deg,
        backlash_deg: 0.5 * rod.backlash_deg,
        // Compensation shifts where faces stand, not how far friction can hold them off.
        wind_up_deg: degrees(wind_up_rad(axis, rod)),
        window_deg: file.handover.settle_window_deg,
        free_deg: interlock.free_deg,
        jam_deg: interlock.jam_deg(&torques),
    }
}
