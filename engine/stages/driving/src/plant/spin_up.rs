//! An axis at rest that the whole bus voltage is put on.

use super::motion::Piece;
use super::motor::Motor;

/// Angle (rad) and speed (rad/s) after `time_s` seconds (0 or more) of full
/// voltage within the current limit, from rest, in closed form; inductance left
/// out. A motor that cannot overcome its Coulomb friction stays at rest.
#[must_use]
pub fn spin_up(motor: &Motor, time_s: f64) -> (f64, f64) {
    let (k, r, inertia) = (motor.constant_v_s, motor.resistance_ohm, motor.inertia_kg_m2);
    let stall_a = motor.voltage_v / r;
    let push_n_m = k * motor.current_limit_a.min(stall_a) - motor.friction_n_m;
    if push_n_m <= 0.0 || time_s <= 0.0 {
        return (0.0, 0.0);
    }
    let (mut angle_rad, mut from_rad_s, mut left_s) = (0.0, 0.0, time_s);
    // Up to the speed from which the voltage no longer drives the current to its limit.
    let split_rad_s = (motor.voltage_v - r * motor.current_limit_a) / k;
    if split_rad_s > 0.0 {
        let (drive, decay) = (push_n_m / inertia, motor.viscous_n_m_s / inertia);
        // Viscous friction may hold it below that speed for ever.
        let reached = decay * split_rad_s < drive;
        let limited = if reached { Piece::between(0.0, split_rad_s, drive, decay) } else { None };
        let limited = limited.unwrap_or(Piece {
            duration_s: f64::INFINITY,
            from_rad_s,
            drive_rad_s2: drive,
            decay_per_s: decay,
        });
        if left_s < limited.duration_s {
            return limited.at(left_s);
        }
        angle_rad = limited.at(limited.duration_s).0;
        from_rad_s = split_rad_s;
        left_s -= limited.duration_s;
    }
    let free = Piece {
        duration_s: left_s,
        from_rad_s,
        drive_rad_s2: (k * stall_a - motor.friction_n_m) / inertia,
        decay_per_s: (k * k / r + motor.viscous_n_m_s) / inertia,
    };
    let (more_rad, speed_rad_s) = free.at(left_s);
    (angle_rad + more_rad, speed_rad_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn motor() -> Motor {
        Motor {
            constant_v_s: 0.0955,
            resistance_ohm: 2.0,
            current_limit_a: 5.0,
            voltage_v: 30.0,
            inertia_kg_m2: 8e-5,
            friction_n_m: 0.1,
            viscous_n_m_s: 1e-4,
        }
    }

    /// SciPy 1.17.1, `solve_ivp` (DOP853, rtol 1e-12, an event where the current leaves its
    /// limit, 209.4 rad/s): angle and speed.
    #[test]
    fn spin_up_matches_the_integrated_motion() {
        for (time_s, angle_rad, speed_rad_s) in INTEGRATED {
            let (angle, speed) = spin_up(&motor(), time_s);
            assert!((angle - angle_rad).abs() < 1e-8 * angle_rad, "{angle} for {angle_rad}");
            assert!((speed - speed_rad_s).abs() < 1e-8 * speed_rad_s, "{speed} for {speed_rad_s}");
        }
    }
    const INTEGRATED: [(f64, f64, f64); 3] = [
        (0.01, 0.234_957_491_52, 46.893_803_135_6),
        (0.05, 5.774_200_611_34, 226.516_460_162_2),
        (0.2, 47.644_784_874_4, 285.927_004_051_5),
    ];

    #[test]
    fn it_ends_where_torque_and_friction_balance() {
        let motor = motor();
        // Voltage-limited: K (V − K ω)/R = Tc + B ω.
        let (k, r) = (0.0955, 2.0);
        let balance = (k * 30.0 / r - 0.1) / (k * k / r + 1e-4);
        assert!((spin_up(&motor, 10.0).1 - balance).abs() < 1e-6);
        // Held below the split by viscous friction: K I = Tc + B ω.
        let oily = Motor { viscous_n_m_s: 1e-2, ..motor };
        assert!((spin_up(&oily, 10.0).1 - (k * 5.0 - 0.1) / 1e-2).abs() < 1e-6);
        assert_eq!(spin_up(&Motor { friction_n_m: 0.4776, ..motor }, 1.0), (0.0, 0.0));
        assert_eq!(spin_up(&motor, 0.0), (0.0, 0.0));
    }
}
