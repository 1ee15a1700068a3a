//! One axis simulated under its drawn controller: motor, shaft and layer, from rest along a
//! course, with what would be logged at given times.
//!
//! The controller is position, speed and current in cascade, ticking as drawn; between
//! ticks the plant goes on in a few even steps (semi-implicit; the current loop exactly).
//! Torques stand on the drawn torque constant.

use core::f64::consts::FRAC_PI_2;

use dryturn_units::maths;
use dryturn_units::stop::checkpoint;

use super::course::{Belief, Course};
use super::drawn::{Drawn, LONGEST_WINDOW};

/// Speed over which the friction feed-forward changes its sign, rad/s.
const FRICTION_SPEED: f64 = 2.0;
/// An axis that is slower than this is taken for resting.
const RESTING_RAD_S: f64 = 2.0;
/// The shaft's damping is all there from this strain on, rad.
const ENGAGED_RAD: f64 = 0.002;

/// An axis as a fit takes it to be.
#[derive(Clone, Copy, Debug)]
pub(super) struct Axis {
    pub(super) inertia_kg_m2: f64,
    pub(super) layer_kg_m2: f64,
    /// Of the layer, in this move.
    pub(super) friction_n_m: f64,
    pub(super) viscous_n_m_s: f64,
    pub(super) detent_n_m: f64,
    pub(super) shaft_n_m_rad: f64,
    pub(super) shaft_damping_n_m_s: f64,
    /// What the bridge can put on the winding.
    pub(super) voltage_v: f64,
    /// Cosine and sine of the angle, and of twice the angle, in what the encoder reads.
    pub(super) harmonics_rad: [f64; 4],
    pub(super) belief: Belief,
}

impl Axis {
    fn non_linear(&self, angle: f64) -> f64 {
        let [c1, s1, c2, s2] = self.harmonics_rad;
        let (sin, cos) = (maths::quick_sin(angle), maths::quick_sin(angle + FRAC_PI_2));
        c1 * cos + s1 * sin + c2 * (2.0 * cos * cos - 1.0) + s2 * 2.0 * sin * cos
    }
}

/// Where an axis and its controller are.
#[derive(Clone, Debug)]
pub(super) struct State {
    motor_rad: f64,
    motor_rad_s: f64,
    layer_rad: f64,
    layer_rad_s: f64,
    current_a: f64,
    integral_n_m: f64,
    past: [f64; LONGEST_WINDOW],
    newest: usize,
    rests: bool,
}

impl State {
    /// At rest where the encoder reads so much, the motor holding what winds up the shaft.
    pub(super) fn holding(
        drawn: &Drawn,
        axis: &Axis,
        errand: &Errand<'_>,
        reads_rad: f64,
        held_n_m: f64,
    ) -> Self {
        let motor_rad =
            reads_rad - axis.non_linear(errand.from_rad) + axis.non_linear(errand.zero_rad);
        let play = if held_n_m == 0.0 { 0.0 } else { drawn.play_rad.copysign(held_n_m) };
        Self {
            motor_rad,
            motor_rad_s: 0.0,
            layer_rad: motor_rad - held_n_m / axis.shaft_n_m_rad - play,
            layer_rad_s: 0.0,
            current_a: held_n_m / drawn.constant_v_s,
            integral_n_m: held_n_m,
            past: [reads_rad; LONGEST_WINDOW],
            newest: 0,
            rests: false,
        }
    }
}

/// A move to follow.
#[derive(Clone, Debug)]
pub(super) struct Errand<'a> {
    pub(super) course: &'a Course,
    pub(super) start_s: f64,
    /// The set-point's ends, rad.
    pub(super) from_rad: f64,
    pub(super) to_rad: f64,
    /// Where the encoder is right, and the stops are.
    pub(super) zero_rad: f64,
}

/// What is logged at a time: angle, rad; current, A.
pub(super) type Logged = [f64; 2];

/// Follows a course from a state, and logs at rising times until the last.
pub(super) fn follow(
    drawn: &Drawn,
    axis: &Axis,
    errand: &Errand<'_>,
    state: &mut State,
    times_s: &[f64],
) -> Vec<Logged> {
    checkpoint();
    let plant = Plant::of(drawn, axis, errand.zero_rad);
    let servo = Servo::of(drawn, axis, errand);
    let zero = axis.non_linear(errand.zero_rad);
    let reads = |motor: f64| motor + axis.non_linear(motor) - zero;
    let mut logged = Vec::with_capacity(times_s.len());
    let mut before = [reads(state.motor_rad), state.current_a];
    let until_s = times_s.last().copied().unwrap_or(errand.start_s);
    let ticks = ((until_s - errand.start_s) / drawn.tick_s).ceil().max(0.0) as usize;
    for tick in 0..=ticks {
        let now = errand.start_s + tick as f64 * drawn.tick_s;
        let here = [reads(state.motor_rad), state.current_a];
        while let Some(&time) = times_s.get(logged.len()).filter(|time| **time <= now) {
            let share = ((now - time) / drawn.tick_s).min(1.0);
            logged.push([0, 1].map(|k| here[k] + share * (before[k] - here[k])));
        }
        before = here;
        let asked = servo.asked_a(state, here[0], tick);
        (0..drawn.steps).for_each(|_| plant.step(state, asked));
    }
    logged.resize(times_s.len(), [reads(state.motor_rad), state.current_a]);
    logged
}

struct Servo<'a> {
    drawn: &'a Drawn,
    errand: &'a Errand<'a>,
    inertia_kg_m2: f64,
    friction_n_m: f64,
    limit_n_m: f64,
    scale: f64,
    ticks: usize,
}

impl<'a> Servo<'a> {
    fn of(drawn: &'a Drawn, axis: &Axis, errand: &'a Errand<'a>) -> Self {
        let course = errand.course;
        Self {
            drawn,
            errand,
            inertia_kg_m2: drawn.inertia_kg_m2 * axis.belief.inertia_ratio,
            friction_n_m: drawn.layer_friction_n_m * axis.belief.friction_ratio,
            limit_n_m: drawn.current_limit_a * drawn.constant_v_s,
            scale: errand.to_rad - errand.from_rad,
            ticks: (course.duration_s / drawn.tick_s).ceil() as usize,
        }
    }

    /// The current to ask for, by what the encoder reads.
    fn asked_a(&self, state: &mut State, reads: f64, tick: usize) -> f64 {
        let drawn = self.drawn;
        let old = state.past[(state.newest + 1 + LONGEST_WINDOW - drawn.window) % LONGEST_WINDOW];
        state.newest = (state.newest + 1) % LONGEST_WINDOW;
        state.past[state.newest] = reads;
        let mut speed = (reads - old) / (drawn.window as f64 * drawn.tick_s);
        let stopped = tick >= self.ticks;
        let (mut at, mut wanted, mut ahead, mut feed) = (self.errand.to_rad, 0.0, 0.0, 0.0);
        if !stopped {
            let course = self.errand.course;
            let now = tick as f64 * drawn.tick_s;
            let (angle, rad_s, _) = course.at(now);
            // Its mean over a tick, so that what is simulated does not jump where the course
            // is a little longer.
            let speed = |ticks: f64| course.at(now + ticks * drawn.tick_s).1;
            let rad_s2 = (speed(0.5) - speed(-0.5)) / drawn.tick_s;
            let whole = course.at(f64::INFINITY).0;
            let sign = self.scale.signum();
            at = self.errand.from_rad + self.scale * angle / whole;
            wanted = sign * rad_s;
            ahead = sign * rad_s2;
            feed = drawn.feed_forward[0] * self.inertia_kg_m2 * ahead
                + drawn.viscous_n_m_s * wanted
                + sign
                    * drawn.feed_forward[1]
                    * self.friction_n_m
                    * maths::tanh(rad_s / FRICTION_SPEED);
        }
        let error = at - reads;
        if stopped && error.abs() <= drawn.settle_rad {
            state.rests |= speed.abs() < RESTING_RAD_S;
        }
        let dead = if stopped { error.clamp(-drawn.deadband_rad, drawn.deadband_rad) } else { 0.0 };
        if stopped && speed.abs() < drawn.least_speed_rad_s {
            speed = 0.0;
        }
        speed += ahead * 0.5 * drawn.window as f64 * drawn.tick_s;
        let slip = drawn.position_per_s * (error - dead) + wanted - speed;
        let gain = drawn.speed_per_s * self.inertia_kg_m2;
        let torque = gain * slip + state.integral_n_m + feed;
        let limit = self.limit_n_m * if state.rests { drawn.hold_share } else { 1.0 };
        let given = torque.clamp(-limit, limit);
        let still = stopped && error.abs() <= drawn.deadband_rad;
        let grows = drawn.integral_per_s * drawn.tick_s;
        if drawn.back_calculation {
            state.integral_n_m += grows * (given - torque);
            state.integral_n_m += if still { 0.0 } else { grows * gain * slip };
        } else if !still && (given == torque || (slip > 0.0) != (torque > 0.0)) {
            state.integral_n_m += grows * gain * slip;
        }
        state.integral_n_m = state.integral_n_m.clamp(-self.limit_n_m, self.limit_n_m);
        given / drawn.constant_v_s
    }
}

struct Plant<'a> {
    drawn: &'a Drawn,
    axis: &'a Axis,
    step_s: f64,
    stop_rad: f64,
    loop_share: f64,
    winding_share: f64,
    per_motor: f64,
    per_layer: f64,
}

impl<'a> Plant<'a> {
    fn of(drawn: &'a Drawn, axis: &'a Axis, stop_rad: f64) -> Self {
        let step_s = drawn.tick_s / drawn.steps as f64;
        let layer = axis.layer_kg_m2;
        Self {
            drawn,
            axis,
            step_s,
            stop_rad,
            loop_share: maths::exp(-step_s / drawn.current_loop_s),
            winding_share: maths::exp(-step_s * drawn.resistance_ohm / drawn.inductance_h),
            per_motor: 1.0 / (axis.inertia_kg_m2 - layer),
            per_layer: 1.0 / layer,
        }
    }

    fn step(&self, state: &mut State, asked: f64) {
        let (drawn, axis, h) = (self.drawn, self.axis, self.step_s);
        let k = drawn.constant_v_s;
        let wanted = asked + (state.current_a - asked) * self.loop_share;
        let towards = |volts: f64| {
            let end = (volts - k * state.motor_rad_s) / drawn.resistance_ohm;
            end + (state.current_a - end) * self.winding_share
        };
        // Not clamped: in a search that runs away the two may be one.
        let now = wanted.max(towards(-axis.voltage_v)).min(towards(axis.voltage_v));
        let current = 0.5 * (state.current_a + now);
        state.current_a = now;
        // Forces half-way.
        let motor = state.motor_rad + 0.5 * h * state.motor_rad_s;
        let layer = state.layer_rad + 0.5 * h * state.layer_rad_s;
        let twist = motor - layer;
        let strain = twist - twist.clamp(-drawn.play_rad, drawn.play_rad);
        let damped = axis.shaft_damping_n_m_s * (strain.abs() / ENGAGED_RAD).min(1.0);
        let shaft = axis.shaft_n_m_rad * strain + damped * (state.motor_rad_s - state.layer_rad_s);
        let on_motor = k * current - shaft - axis.viscous_n_m_s * state.motor_rad_s;
        let on_layer = shaft - axis.detent_n_m * maths::quick_sin(4.0 * (layer - self.stop_rad));
        let rub = |speed: f64, most: f64| {
            if speed.abs() <= most { 0.0 } else { speed - most.copysign(speed) }
        };
        state.motor_rad_s = rub(
            state.motor_rad_s + h * self.per_motor * on_motor,
            h * self.per_motor * drawn.bearing_n_m,
        );
        state.layer_rad_s = rub(
            state.layer_rad_s + h * self.per_layer * on_layer,
            h * self.per_layer * axis.friction_n_m,
        );
        state.motor_rad = motor + 0.5 * h * state.motor_rad_s;
        state.layer_rad = layer + 0.5 * h * state.layer_rad_s;
    }
}
