//! Closed forms of the profiles that trade literature uses (L. Biagiotti and
//! C. Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008).

use dryturn_units::maths;

/// Duration (s), switching time (s) and peak speed (rad/s) of a move at torque
/// `±torque_n_m` against Coulomb friction.
#[must_use]
pub fn bang_bang(
    inertia_kg_m2: f64,
    torque_n_m: f64,
    friction_n_m: f64,
    angle_rad: f64,
) -> (f64, f64, f64) {
    let speed_up = (torque_n_m - friction_n_m) / inertia_kg_m2;
    let slow_down = (torque_n_m + friction_n_m) / inertia_kg_m2;
    let slowness = 1.0 / speed_up + 1.0 / slow_down;
    let peak = (2.0 * angle_rad / slowness).sqrt();
    (peak * slowness, peak / speed_up, peak)
}

/// Duration, s, of a trapezoid of speed.
#[must_use]
pub fn trapezoid(angle_rad: f64, speed_rad_s: f64, acceleration_rad_s2: f64) -> f64 {
    let (angle, speed, acceleration) = (angle_rad.abs(), speed_rad_s, acceleration_rad_s2);
    if angle >= speed * speed / acceleration {
        angle / speed + speed / acceleration
    } else {
        2.0 * (angle / acceleration).sqrt()
    }
}

/// Duration (s), peak speed (rad/s) and peak acceleration (rad/s²) of a
/// jerk-limited move (double S).
#[must_use]
pub fn s_curve(
    angle_rad: f64,
    speed_rad_s: f64,
    acceleration_rad_s2: f64,
    jerk_rad_s3: f64,
) -> (f64, f64, f64) {
    let (angle, speed) = (angle_rad.abs(), speed_rad_s);
    let (acceleration, jerk) = (acceleration_rad_s2, jerk_rad_s3);
    let ramp = |v: f64| {
        if v * jerk < acceleration * acceleration {
            2.0 * (v / jerk).sqrt()
        } else {
            v / acceleration + acceleration / jerk
        }
    };
    let peak = if speed * ramp(speed) <= angle {
        speed
    } else {
        // Jerk alone: angle = 2 v √(v/j).
        let by_jerk = maths::cbrt(angle * angle * jerk / 4.0);
        if by_jerk * jerk < acceleration * acceleration {
            by_jerk
        } else {
            // v (v/a + a/j) = angle.
            let half = acceleration * acceleration / (2.0 * jerk);
            (half * half + acceleration * angle).sqrt() - half
        }
    };
    let cruise = ((angle - peak * ramp(peak)) / peak).max(0.0);
    (2.0 * ramp(peak) + cruise, peak, acceleration.min((peak * jerk).sqrt()))
}
