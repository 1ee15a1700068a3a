//! Whether the drive can move the cube.

use crate::error::FieldError;
use crate::file::SceneFile;

/// The axis must be able to move the cube, in a time that makes sense.
pub(super) fn check(file: &SceneFile) -> Result<(), FieldError> {
    const LONGEST_HALF_TURN_S: f64 = 5.0;
    let drive = &file.drive;
    let constant = 60.0 / (core::f64::consts::TAU * drive.speed_constant_rpm_per_v);
    let setting = drive.torque_setting_n_m_per_v * drive.bus_voltage_v;
    let stall = constant * drive.bus_voltage_v / drive.resistance_ohm;
    let torque = setting.min(stall) * drive.planned_torque_share;
    let surplus = torque - drive.friction_torque_n_m;
    if surplus <= 0.05 * drive.friction_torque_n_m {
        let allowed = format!(
            "below {:.4}: the planned torque ({torque:.4} N·m of {setting:.4} N·m set and \
             {stall:.4} N·m at stall) must exceed it by 5 %",
            torque / 1.05
        );
        let field = "drive.friction_torque_n_m";
        return Err(FieldError::new(field, drive.friction_torque_n_m, allowed));
    }
    // An upper bound: speed up and slow down with the surplus, cruise at the
    // highest speed that friction, voltage and limit leave.
    let inertia =
        drive.rotor_inertia_kg_m2 + drive.coupler_inertia_kg_m2 + drive.layer_inertia_kg_m2;
    let resisted = constant * constant / drive.resistance_ohm + drive.viscous_friction_n_m_s;
    let top_speed = ((stall - drive.friction_torque_n_m) / resisted)
        .min(surplus / drive.viscous_friction_n_m_s.max(1e-12))
        .min(drive.speed_limit_rad_s);
    let angle = core::f64::consts::PI;
    let half_turn_s = 2.0 * (angle * inertia / surplus).sqrt() + angle / top_speed;
    if half_turn_s > LONGEST_HALF_TURN_S {
        let value = format!("so weak that a half turn may take {half_turn_s:.1} s");
        let allowed = format!("at most {LONGEST_HALF_TURN_S} s a half turn");
        return Err(FieldError::new("drive", value, allowed));
    }
    Ok(())
}
