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

/// A jerk-limited move (double S), from rest to rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SCurve {
    /// Highest speed, rad/s.
    pub peak_rad_s: f64,
    /// Highest acceleration, rad/s².
    pub acceleration_rad_s2: f64,
    /// How long the jerk lasts, each of four times.
    jerk_s: f64,
    /// How long the acceleration is constant, each of two times.
    steady_s: f64,
    /// How long the speed is constant.
    cruise_s: f64,
    jerk_rad_s3: f64,
}

impl SCurve {
    /// Within limits of speed (rad/s), acceleration (rad/s²) and jerk (rad/s³).
    #[must_use]
    pub fn of(
        angle_rad: f64,
        speed_rad_s: f64,
        acceleration_rad_s2: f64,
        jerk_rad_s3: f64,
    ) -> Self {
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
        let reached = acceleration.min((peak * jerk).sqrt());
        let jerk_s = reached / jerk;
        Self {
            peak_rad_s: peak,
            acceleration_rad_s2: reached,
            jerk_s,
            steady_s: (ramp(peak) - 2.0 * jerk_s).max(0.0),
            cruise_s: ((angle - peak * ramp(peak)) / peak).max(0.0),
            jerk_rad_s3,
        }
    }

    /// The whole, s.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        4.0 * self.jerk_s + 2.0 * self.steady_s + self.cruise_s
    }

    /// Angle (rad), speed (rad/s) and acceleration (rad/s²) at a time.
    #[must_use]
    pub fn at(&self, t_s: f64) -> (f64, f64, f64) {
        let j = self.jerk_rad_s3;
        let pieces = [
            (self.jerk_s, j),
            (self.steady_s, 0.0),
            (self.jerk_s, -j),
            (self.cruise_s, 0.0),
            (self.jerk_s, -j),
            (self.steady_s, 0.0),
            (self.jerk_s, j),
        ];
        let (mut angle, mut speed, mut acceleration) = (0.0, 0.0, 0.0);
        let mut left = t_s.clamp(0.0, self.duration_s());
        for (duration, jerk) in pieces {
            let t = left.min(duration);
            angle += t * (speed + t * (acceleration / 2.0 + t * jerk / 6.0));
            speed += t * (acceleration + t * jerk / 2.0);
            acceleration += t * jerk;
            left -= t;
        }
        (angle, speed, acceleration)
    }
}
