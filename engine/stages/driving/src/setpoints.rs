//! Set-points of one kind of turn, tick by tick of the controller.

use dryturn_scene::file::{Drive, Profile};
use dryturn_units::maths;

use crate::axis::Axis;
use crate::motion::rest_to_rest;
use crate::profile;

/// Speed over which the friction feed-forward changes its sign, rad/s.
const FRICTION_SPEED: f64 = 2.0;

/// Where an axis shall be at one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Setpoint {
    /// Angle gone, rad; positive.
    pub angle_rad: f64,
    /// Speed, rad/s.
    pub speed_rad_s: f64,
    /// Acceleration, rad/s².
    pub acceleration_rad_s2: f64,
    /// Feed-forward of the controller, N·m.
    pub feed_forward_n_m: f64,
}

/// What the controller believes of what it turns.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Belief {
    pub(crate) inertia_kg_m2: f64,
    pub(crate) friction_n_m: f64,
    pub(crate) viscous_n_m_s: f64,
}

/// All set-points of one move, from its start on.
#[derive(Clone, Debug)]
pub struct Setpoints {
    /// One a tick; the last is at rest at the end.
    pub ticks: Vec<Setpoint>,
    /// Duration of the profile itself, s.
    pub duration_s: f64,
    /// The whole angle, rad.
    pub angle_rad: f64,
}

impl Setpoints {
    /// Of a turn by `angle_rad` with the drive's profile, gone through at `pace` times its
    /// speed: speeds are then `pace` times as high, accelerations `pace²`.
    pub(crate) fn of(
        drive: &Drive,
        axis: &Axis,
        (angle_rad, pace): (f64, f64),
        tick_s: f64,
        to: Belief,
    ) -> Self {
        let speed = axis.speed_limit_rad_s;
        let acceleration = drive.acceleration_limit_rad_s2;
        match drive.profile {
            Profile::MinimumTime => {
                let motion = rest_to_rest(&axis.planned, angle_rad, speed);
                let at = |t| motion.state_at(t);
                Self::sampled(motion.duration_s, (angle_rad, pace), tick_s, to, at)
            }
            Profile::BangBang => {
                let planned = &axis.planned;
                let (total_s, switch_s, peak) = profile::bang_bang(
                    planned.inertia_kg_m2,
                    planned.torque_n_m(),
                    planned.friction_n_m,
                    angle_rad,
                );
                let (up, down) = (peak / switch_s, peak / (total_s - switch_s));
                let at = |t: f64| {
                    if t < switch_s {
                        (0.5 * up * t * t, up * t, up)
                    } else {
                        let left = total_s - t;
                        (angle_rad - 0.5 * down * left * left, down * left, -down)
                    }
                };
                Self::sampled(total_s, (angle_rad, pace), tick_s, to, at)
            }
            Profile::Trapezoid => {
                Self::trapezoid((angle_rad, pace), speed, acceleration, tick_s, to)
            }
            Profile::SCurve => {
                let jerk = drive.jerk_limit_rad_s3;
                let s = profile::SCurve::of(angle_rad, speed, acceleration, jerk);
                Self::sampled(s.duration_s(), (angle_rad, pace), tick_s, to, |t| s.at(t))
            }
        }
    }

    /// How long a turn by `angle_rad` with the drive's profile takes, s; for what has no
    /// bounds of its own, before [`Setpoints::of`] asks for memory by it.
    pub(crate) fn duration_of(drive: &Drive, axis: &Axis, angle_rad: f64) -> f64 {
        let speed = axis.speed_limit_rad_s;
        let acceleration = drive.acceleration_limit_rad_s2;
        let planned = &axis.planned;
        match drive.profile {
            Profile::MinimumTime => rest_to_rest(planned, angle_rad, speed).duration_s,
            Profile::BangBang => {
                let (torque, friction) = (planned.torque_n_m(), planned.friction_n_m);
                profile::bang_bang(planned.inertia_kg_m2, torque, friction, angle_rad).0
            }
            Profile::Trapezoid => profile::trapezoid(angle_rad, speed, acceleration),
            Profile::SCurve => {
                let jerk = drive.jerk_limit_rad_s3;
                profile::SCurve::of(angle_rad, speed, acceleration, jerk).duration_s()
            }
        }
    }

    /// Of a trapezoid of speed, gone through at `pace` times its speed.
    pub(crate) fn trapezoid(
        (angle, pace): (f64, f64),
        speed: f64,
        rate: f64,
        tick_s: f64,
        to: Belief,
    ) -> Self {
        let total_s = profile::trapezoid(angle, speed, rate);
        let ramp_s = (speed / rate).min(total_s / 2.0);
        let peak = rate * ramp_s;
        let at = |t: f64| {
            if t < ramp_s {
                (0.5 * rate * t * t, rate * t, rate)
            } else if t < total_s - ramp_s {
                (0.5 * peak * ramp_s + peak * (t - ramp_s), peak, 0.0)
            } else {
                let left = total_s - t;
                (angle - 0.5 * rate * left * left, rate * left, -rate)
            }
        };
        Self::sampled(total_s, (angle, pace), tick_s, to, at)
    }

    fn sampled(
        full_s: f64,
        (angle_rad, pace): (f64, f64),
        tick_s: f64,
        to: Belief,
        at: impl Fn(f64) -> (f64, f64, f64),
    ) -> Self {
        let duration_s = full_s / pace;
        let count = (duration_s / tick_s).ceil() as usize;
        let setpoint = |i: usize| {
            let (angle_rad, speed, acceleration) = at(i as f64 * tick_s * pace);
            let (speed_rad_s, acceleration_rad_s2) = (speed * pace, acceleration * pace * pace);
            let slip = speed_rad_s / FRICTION_SPEED;
            let feed_forward_n_m = to.inertia_kg_m2 * acceleration_rad_s2
                + to.viscous_n_m_s * speed_rad_s
                + to.friction_n_m * maths::tanh(slip);
            Setpoint { angle_rad, speed_rad_s, acceleration_rad_s2, feed_forward_n_m }
        };
        let mut ticks: Vec<Setpoint> = (0..count).map(setpoint).collect();
        ticks.push(Setpoint { angle_rad, ..Setpoint::default() });
        Self { ticks, duration_s, angle_rad }
    }

    /// The set-point so many ticks after the start.
    #[must_use]
    pub fn at(&self, tick: usize) -> &Setpoint {
        &self.ticks[tick.min(self.ticks.len() - 1)]
    }
}
