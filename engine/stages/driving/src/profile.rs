//! Closed forms of the profiles that trade literature uses (L. Biagiotti and
//! C. Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008).

use dryturn_units::maths;

/// Duration (s), switching time (s) and peak speed (rad/s) of a move over
/// `angle` (rad) at torque `±torque` against Coulomb friction (N·m).
#[must_use]
pub fn bang_bang(inertia: f64, torque: f64, friction: f64, angle: f64) -> (f64, f64, f64) {
    let speed_up = (torque - friction) / inertia;
    let slow_down = (torque + friction) / inertia;
    let slowness = 1.0 / speed_up + 1.0 / slow_down;
    let peak = (2.0 * angle / slowness).sqrt();
    (peak * slowness, peak / speed_up, peak)
}

/// Duration, s, of a trapezoid of speed: `angle` in rad, limits in rad/s and rad/s².
#[must_use]
pub fn trapezoid(angle: f64, speed: f64, acceleration: f64) -> f64 {
    let angle = angle.abs();
    if angle >= speed * speed / acceleration {
        angle / speed + speed / acceleration
    } else {
        2.0 * (angle / acceleration).sqrt()
    }
}

/// Duration (s), peak speed and peak acceleration of a jerk-limited move
/// (double S): limits in rad/s, rad/s² and rad/s³.
#[must_use]
pub fn s_curve(angle: f64, speed: f64, acceleration: f64, jerk: f64) -> (f64, f64, f64) {
    let angle = angle.abs();
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
