//! Set-points of one kind of turn, tick by tick of the controller.

use dryturn_cube::Amount;
use dryturn_units::maths;

use super::Planned;

/// Places of a quarter turn and of a half turn among the set-points of all turns.
pub(crate) const QUARTER: usize = 0;
pub(crate) const HALF: usize = 1;

/// The place of a turn's set-points.
pub(crate) fn kind(amount: Amount) -> usize {
    if amount == Amount::Half { HALF } else { QUARTER }
}

/// Speed over which the friction feed-forward changes its sign, rad/s.
const FRICTION_SPEED: f64 = 2.0;

/// Where an axis shall be at one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Setpoint {
    /// Angle gone, rad; positive.
    pub(crate) angle_rad: f64,
    /// Speed, rad/s.
    pub(crate) speed_rad_s: f64,
    /// Acceleration, rad/s².
    pub(crate) acceleration_rad_s2: f64,
    /// Feed-forward of the controller, N·m.
    pub(crate) feed_forward_n_m: f64,
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
pub(crate) struct Setpoints {
    /// One a tick; the last is at rest at the end.
    pub(crate) ticks: Vec<Setpoint>,
    /// Duration of the profile itself, s.
    pub(crate) duration_s: f64,
    /// The whole angle, rad.
    pub(crate) angle_rad: f64,
}

impl Setpoints {
    /// Of a planned move, gone through at `pace` times its speed: speeds are then `pace` times
    /// as high, accelerations `pace²`.
    pub(crate) fn of(planned: &Planned, pace: f64, tick_s: f64, to: Belief) -> Self {
        let angle_rad = planned.angle_rad;
        let duration_s = planned.duration_s / pace;
        let count = (duration_s / tick_s).ceil() as usize;
        let setpoint = |i: usize| {
            let (angle_rad, speed, acceleration) = planned.at(i as f64 * tick_s * pace);
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
    pub(crate) fn at(&self, tick: usize) -> &Setpoint {
        &self.ticks[tick.min(self.ticks.len() - 1)]
    }
}
