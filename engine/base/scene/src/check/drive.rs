//! Whether the drive can move the cube.

use dryturn_units::maths;

use crate::fault::{Faults, FieldError};
use crate::figures::QUICKEST_PER_S;
use crate::file::{Profile, SceneFile};

/// The axis must be able to move the cube, in a time that makes sense.
pub(super) fn check(file: &SceneFile, found: &mut Faults) {
    let needed = ["drive", "cube.layer_friction_share", "cube.tension_ratio"];
    let needed = [&needed[..], &["controller.loop_period_ms"]].concat();
    if found.sound(&needed)
        && let Err(error) = moves(file)
    {
        found.push(error);
    }
    let drawn = ["drive", "cube", "shafts", "tolerances"];
    if found.sound(&drawn) {
        check_quickness(file, found);
    }
}

/// A simulation steps through all that swings or dies away: there must be an end to how quick
/// that is.
fn check_quickness(file: &SceneFile, found: &mut Faults) {
    let rates = file.axis_rates().into_iter().chain(file.contact_rates());
    let too_quick = rates.filter(|rate| rate.per_s > QUICKEST_PER_S);
    if let Some(rate) = too_quick.max_by(|a, b| a.per_s.total_cmp(&b.per_s)) {
        let value = format!(
            "so much for inertias of {:.1e} and {:.1e} kg·m² (motor, layer) that {} at {:.1e}/s",
            file.drive.rotor_inertia_kg_m2 + file.drive.coupler_inertia_kg_m2,
            file.layer_inertia_kg_m2(),
            rate.what,
            rate.per_s
        );
        let allowed = format!("so that nothing in an axis is quicker than {QUICKEST_PER_S:.0e}/s");
        found.push(FieldError::new(rate.field, value, allowed));
    }
}

/// Each of these follows from the one before.
fn moves(file: &SceneFile) -> Result<(), FieldError> {
    const LONGEST_HALF_TURN_S: f64 = 5.0;
    let drive = &file.drive;
    let constant = 60.0 / (core::f64::consts::TAU * drive.speed_constant_rpm_per_v);
    let setting =
        (drive.torque_setting_n_m_per_v * drive.bus_voltage_v).min(drive.torque_limit_n_m);
    let stall = constant * drive.duty_share * drive.bus_voltage_v / drive.resistance_ohm;
    let torque = setting.min(stall) * drive.planned_torque_share;
    // What the tension of the cube makes of the drive's figure.
    let tight = file.tension_share();
    let friction = file.layer_friction_n_m();
    let surplus = torque - friction;
    if surplus <= 0.05 * friction {
        let allowed = format!(
            "below {:.4}: the planned torque ({torque:.4} N·m of {setting:.4} N·m set and \
             {stall:.4} N·m at stall) must exceed it by 5 %{}",
            torque / 1.05 / tight,
            if tight == 1.0 { String::new() } else { format!(", times {tight:.3} for the cube") }
        );
        let field = "drive.friction_torque_n_m";
        let value = file.friction_torque_n_m();
        let value = match drive.friction_torque_n_m.0 {
            Some(_) => value.to_string(),
            None => format!("{value} (from the preset and the cube's edge)"),
        };
        return Err(FieldError::new(field, value, allowed));
    }
    // An upper bound: speed up and slow down with the surplus, cruise at the
    // highest speed that friction, voltage and limit leave.
    let inertia = file.axis_inertia_kg_m2();
    let resisted = constant * constant / drive.resistance_ohm + drive.viscous_friction_n_m_s;
    let top_speed = ((stall - friction) / resisted)
        .min(surplus / drive.viscous_friction_n_m_s.max(1e-12))
        .min(drive.speed_limit_rad_s);
    let angle = core::f64::consts::PI;
    let rate = match drive.profile {
        Profile::MinimumTime | Profile::BangBang => surplus / inertia,
        Profile::Trapezoid | Profile::SCurve => drive.acceleration_limit_rad_s2,
    };
    let jerk_s = match drive.profile {
        Profile::SCurve => 2.0 * maths::cbrt(angle / drive.jerk_limit_rad_s3),
        _ => 0.0,
    };
    let half_turn_s = 2.0 * (angle / rate).sqrt() + angle / top_speed + 2.0 * jerk_s;
    if half_turn_s > LONGEST_HALF_TURN_S {
        let value = format!("so weak that a half turn may take {half_turn_s:.1} s");
        let allowed = format!("at most {LONGEST_HALF_TURN_S} s a half turn");
        return Err(FieldError::new("drive", value, allowed));
    }
    let period_s = file.controller.loop_period_ms * 1e-3;
    let shortest_s = 5.0 * period_s;
    let quickest_s = (angle / (drive.torque_limit_n_m.min(setting) / inertia)).sqrt();
    if matches!(drive.profile, Profile::MinimumTime | Profile::BangBang) && quickest_s < shortest_s
    {
        let value = format!("so light or strong that a quarter turn takes {quickest_s:.6} s");
        let allowed = format!("at least 5 periods of the controller, {shortest_s:.6} s");
        return Err(FieldError::new("drive", value, allowed));
    }
    Ok(())
}
