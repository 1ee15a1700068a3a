//! One move from rest to rest as a drive's profile plans it.

use dryturn_scene::file::{Drive, Profile};

use super::profile::{self, SCurve};
use crate::plant::{Axis, Motion, rest_to_rest};

/// A move at full pace.
pub(crate) struct Planned {
    /// The whole angle, rad.
    pub(crate) angle_rad: f64,
    pub(crate) duration_s: f64,
    course: Course,
}

/// How angle and speed go on.
enum Course {
    MinimumTime(Motion),
    BangBang { switch_s: f64, up_rad_s2: f64, down_rad_s2: f64 },
    Trapezoid { ramp_s: f64, peak_rad_s: f64, rate_rad_s2: f64 },
    SCurve(SCurve),
}

impl Planned {
    /// A turn by `angle_rad` with the drive's profile.
    pub(crate) fn of(drive: &Drive, axis: &Axis, angle_rad: f64) -> Self {
        let speed = axis.speed_limit_rad_s;
        let acceleration = drive.acceleration_limit_rad_s2;
        let planned = &axis.planned;
        let (duration_s, course) = match drive.profile {
            Profile::MinimumTime => {
                let motion = rest_to_rest(planned, angle_rad, speed);
                (motion.duration_s, Course::MinimumTime(motion))
            }
            Profile::BangBang => {
                let (total_s, switch_s, peak) = profile::bang_bang(
                    planned.inertia_kg_m2,
                    planned.torque_n_m(),
                    planned.friction_n_m,
                    angle_rad,
                );
                let (up_rad_s2, down_rad_s2) = (peak / switch_s, peak / (total_s - switch_s));
                (total_s, Course::BangBang { switch_s, up_rad_s2, down_rad_s2 })
            }
            Profile::Trapezoid => return Self::trapezoid(angle_rad, speed, acceleration),
            Profile::SCurve => {
                let jerk = drive.jerk_limit_rad_s3;
                let curve = SCurve::of(angle_rad, speed, acceleration, jerk);
                (curve.duration_s(), Course::SCurve(curve))
            }
        };
        Self { angle_rad, duration_s, course }
    }

    /// A trapezoid of speed.
    pub(crate) fn trapezoid(angle_rad: f64, speed: f64, rate_rad_s2: f64) -> Self {
        let duration_s = profile::trapezoid(angle_rad, speed, rate_rad_s2);
        let ramp_s = (speed / rate_rad_s2).min(duration_s / 2.0);
        let peak_rad_s = rate_rad_s2 * ramp_s;
        let course = Course::Trapezoid { ramp_s, peak_rad_s, rate_rad_s2 };
        Self { angle_rad, duration_s, course }
    }

    /// Angle (rad), speed (rad/s) and acceleration (rad/s²) at a time.
    pub(crate) fn at(&self, t: f64) -> (f64, f64, f64) {
        let angle_rad = self.angle_rad;
        match self.course {
            Course::MinimumTime(ref motion) => motion.state_at(t),
            Course::BangBang { switch_s, up_rad_s2: up, down_rad_s2: down } => {
                if t < switch_s {
                    (0.5 * up * t * t, up * t, up)
                } else {
                    let left = self.duration_s - t;
                    (angle_rad - 0.5 * down * left * left, down * left, -down)
                }
            }
            Course::Trapezoid { ramp_s, peak_rad_s: peak, rate_rad_s2: rate } => {
                if t < ramp_s {
                    (0.5 * rate * t * t, rate * t, rate)
                } else if t < self.duration_s - ramp_s {
                    (0.5 * peak * ramp_s + peak * (t - ramp_s), peak, 0.0)
                } else {
                    let left = self.duration_s - t;
                    (angle_rad - 0.5 * rate * left * left, rate * left, -rate)
                }
            }
            Course::SCurve(ref curve) => curve.at(t),
        }
    }
}
