//! One axis's controller: position, speed and current in cascade.
//!
//! `ω* = k_p (θ* − θ) + θ*'`, `T* = k_v (ω* − ω) + I + feed-forward`, `I' = k_i (ω* − ω)`
//! with anti-windup by clamping or by leading back what the limit cuts off (K. J. Åström
//! and T. Hägglund, *PID Controllers*, 1995). The angle is the encoder's; the speed is its
//! difference over a few samples, with the planned acceleration's share over half that
//! window added.

use dryturn_scene::file::{AntiWindup, Controller};
use dryturn_units::radians;

use super::Setpoints;
use super::asked::Asked;
use super::window::{LONGEST, Window};

/// An axis that is slower than this is taken for resting.
const RESTING_RAD_S: f64 = 2.0;

/// A face that moves slower than its stop is taken for punctual.
const LATE_ABOVE_RAD_S: f64 = 5.0;
/// An axis is taken for late or early by no more than this, s.
const LATEST_S: f64 = 5e-3;

/// Gains and limits, SI units.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gains {
    pub(crate) tick_s: f64,
    position_per_s: f64,
    speed_n_m_s: f64,
    integral_n_m: f64,
    pub(super) window: usize,
    back_calculation: bool,
    deadband_rad: f64,
    /// Speed of one step of the encoder in the window.
    least_speed_rad_s: f64,
    pub(crate) torque_n_m: f64,
    hold_n_m: f64,
    pub(super) settle_rad: f64,
    /// What the controller takes the motor's torque constant for.
    pub(crate) constant_v_s: f64,
}

impl Gains {
    pub(crate) fn of(
        controller: &Controller,
        inertia_kg_m2: f64,
        (torque_n_m, constant_v_s): (f64, f64),
        (encoder_step_rad, settle_deg): (f64, f64),
    ) -> Self {
        let tick_s = controller.loop_period_ms * 1e-3;
        let window = (controller.speed_window_samples as usize).clamp(1, LONGEST);
        let speed_n_m_s = controller.speed_gain_per_s * inertia_kg_m2;
        Self {
            tick_s,
            position_per_s: controller.position_gain_per_s,
            speed_n_m_s,
            integral_n_m: controller.speed_integral_per_s * speed_n_m_s,
            window,
            least_speed_rad_s: 1.5 * encoder_step_rad / (window as f64 * tick_s),
            back_calculation: controller.anti_windup == AntiWindup::BackCalculation,
            deadband_rad: radians(controller.deadband_deg),
            torque_n_m,
            hold_n_m: controller.hold_torque_share * torque_n_m,
            settle_rad: radians(settle_deg),
            constant_v_s,
        }
    }
}

impl Gains {
    /// With no more torque than a stopped axis holds with.
    pub(crate) fn gentle(self) -> Self {
        Self { torque_n_m: self.hold_n_m, ..self }
    }

    /// Torque limit of an axis that rests, or does not.
    pub(crate) fn holds_with(&self, rests: bool) -> f64 {
        if rests { self.hold_n_m } else { self.torque_n_m }
    }
}

/// A move under way.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Under {
    /// Which set-points it follows.
    pub(crate) kind: usize,
    pub(crate) from_rad: f64,
    pub(crate) sign: f64,
    /// The way over that of the set-points: stops may lie a little beside.
    scale: f64,
    pub(crate) ticks: usize,
}

/// What goes with a set-point's angle.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Wanted {
    pub(super) speed_rad_s: f64,
    /// By how much the speed lags that the encoder shows, for it is a mean over a window.
    pub(super) gained_rad_s: f64,
    pub(super) feed_forward_n_m: f64,
}

/// A controller's memory.
#[derive(Clone, Debug)]
pub(crate) struct Servo {
    pub(crate) moving: Option<Under>,
    /// The stop of its face, by the encoder.
    stop_rad: f64,
    /// Where it shall stop, or stands, by the encoder.
    pub(crate) target_rad: f64,
    pub(crate) setpoint_rad: f64,
    pub(crate) reads_rad: f64,
    pub(crate) torque_n_m: f64,
    /// Whether it has been within the settle window since its last move ended.
    pub(crate) settled: bool,
    /// Whether it has come to rest there; it then holds with less.
    pub(crate) rests: bool,
    integral_n_m: f64,
    reads: Window,
    /// What somebody in the controller's seat asked of it last.
    pub(super) asked: Option<Box<Asked>>,
}

impl Servo {
    pub(crate) fn at(reads_rad: f64, target_rad: f64) -> Self {
        Self {
            moving: None,
            stop_rad: target_rad,
            target_rad,
            setpoint_rad: target_rad,
            reads_rad,
            torque_n_m: 0.0,
            settled: true,
            rests: true,
            integral_n_m: 0.0,
            reads: Window::of(reads_rad),
            asked: None,
        }
    }

    /// How far set-point and encoder are from the target, the larger of the two, rad.
    pub(crate) fn to_go_rad(&self) -> f64 {
        (self.target_rad - self.setpoint_rad).abs().max((self.target_rad - self.reads_rad).abs())
    }

    pub(crate) fn following_error_rad(&self) -> f64 {
        (self.setpoint_rad - self.reads_rad).abs()
    }

    pub(crate) fn speed_rad_s(&self, gains: &Gains) -> f64 {
        self.reads.change(gains.window) / (gains.window as f64 * gains.tick_s)
    }

    /// Seconds until it comes to its stop, as late as it is now by its encoder; `None` where
    /// its set-point stands still.
    pub(crate) fn stops_in_s(&self, tick_s: f64, moves: &[Setpoints]) -> Option<f64> {
        let under = self.moving.as_ref()?;
        let course = &moves[under.kind];
        let left_s = course.ticks.len().saturating_sub(under.ticks) as f64 * tick_s;
        let speed = course.at(under.ticks).speed_rad_s;
        let behind = under.sign * (self.setpoint_rad - self.reads_rad);
        let late_s = if speed > LATE_ABOVE_RAD_S { behind / speed } else { 0.0 };
        Some(left_s + late_s.clamp(-LATEST_S, LATEST_S))
    }

    /// Starts a move to the stop that is `angle_rad` from the last one; the axis shall
    /// stand by `beyond_rad` beyond it.
    pub(crate) fn start(&mut self, kind: usize, angle_rad: f64, beyond_rad: f64) {
        let (from_rad, sign) = (self.target_rad, angle_rad.signum());
        self.stop_rad += angle_rad;
        self.target_rad = self.stop_rad + sign * beyond_rad;
        let scale = (self.target_rad - from_rad) / angle_rad;
        self.moving = Some(Under { kind, from_rad, sign, scale, ticks: 0 });
        self.settled = false;
        self.rests = false;
    }

    /// One tick of the built-in controller: reads the encoder; gives the current to ask for.
    pub(crate) fn tick(&mut self, gains: &Gains, reads_rad: f64, moves: &[Setpoints]) -> f64 {
        self.read(reads_rad);
        let wanted = self.goes_on(gains, moves);
        self.settle(gains);
        self.cascade(gains, wanted)
    }

    pub(super) fn read(&mut self, reads_rad: f64) {
        self.reads_rad = reads_rad;
        self.reads.push(reads_rad);
    }

    /// The next set-point of the move under way.
    pub(super) fn goes_on(&mut self, gains: &Gains, moves: &[Setpoints]) -> Wanted {
        let mut wanted = Wanted::default();
        self.setpoint_rad = self.target_rad;
        if let Some(under) = &mut self.moving {
            let course = &moves[under.kind];
            if under.ticks + 1 >= course.ticks.len() {
                self.moving = None;
            } else {
                let setpoint = course.at(under.ticks);
                let sign = under.sign;
                self.setpoint_rad = under.from_rad + sign * under.scale * setpoint.angle_rad;
                under.ticks += 1;
                let lag_s = 0.5 * gains.window as f64 * gains.tick_s;
                wanted = Wanted {
                    speed_rad_s: sign * setpoint.speed_rad_s,
                    gained_rad_s: sign * setpoint.acceleration_rad_s2 * lag_s,
                    feed_forward_n_m: sign * setpoint.feed_forward_n_m,
                };
            }
        }
        wanted
    }

    /// Whether it has settled, and rests: where its set-point stands, by its encoder.
    pub(super) fn settle(&mut self, gains: &Gains) {
        let off_rad = (self.target_rad - self.reads_rad).abs();
        if self.moving.is_none() && off_rad <= gains.settle_rad {
            self.settled = true;
            self.rests |= self.speed_rad_s(gains).abs() < RESTING_RAD_S;
        }
    }

    /// The loops of position and speed: the current that they ask for.
    pub(super) fn cascade(&mut self, gains: &Gains, setpoint: Wanted) -> f64 {
        let error = self.setpoint_rad - self.reads_rad;
        // A stopped axis that is near enough is left alone, or it would never come to rest.
        let stopped = self.moving.is_none();
        let dead = if stopped { error.clamp(-gains.deadband_rad, gains.deadband_rad) } else { 0.0 };
        let wanted = gains.position_per_s * (error - dead) + setpoint.speed_rad_s;
        let mut speed = self.speed_rad_s(gains);
        // Nor does it answer to single steps of its encoder.
        if stopped && speed.abs() < gains.least_speed_rad_s {
            speed = 0.0;
        }
        speed += setpoint.gained_rad_s;
        let slip = wanted - speed;
        let torque = gains.speed_n_m_s * slip + self.integral_n_m + setpoint.feed_forward_n_m;
        let limit = gains.holds_with(self.rests);
        let given = torque.clamp(-limit, limit);
        let still = stopped && error.abs() <= gains.deadband_rad;
        let gain = gains.integral_n_m * gains.tick_s;
        if gains.back_calculation {
            // Tracking time: proportional over integral gain.
            let back = if gains.speed_n_m_s > 0.0 {
                gain / gains.speed_n_m_s * (given - torque)
            } else {
                0.0
            };
            self.integral_n_m += back + if still { 0.0 } else { gain * slip };
        } else if !still && (given == torque || (slip > 0.0) != (torque > 0.0)) {
            self.integral_n_m += gain * slip;
        }
        self.integral_n_m = self.integral_n_m.clamp(-gains.torque_n_m, gains.torque_n_m);
        self.torque_n_m = given;
        given / gains.constant_v_s
    }
}
