//! One axis as it is: winding, rotor, shaft and layer, stepped with a fixed step.
//!
//! `V = R i + L i' + K ω` with `|V|` at most what the bridge can put on the winding and
//! the current loop as a first-order lag; rotor and coupler on one side of the shaft's
//! spring, the layer on the other, each with Coulomb friction (R. Krishnan, *Permanent
//! Magnet Synchronous and Brushless DC Motor Drives*, 2010, for the direct-current
//! equivalent at no direct-axis current). The friction of the layer lies behind the
//! shaft, so it is the shaft alone that static friction winds up.
//!
//! A step is symmetric, hence of second order: half a step of the angles and of the
//! winding, which relaxes exponentially; forces there; speeds; the other halves (G. Strang,
//! SIAM J. Numer. Anal. 5, 1968). Friction takes at most the speed that there is, so that
//! what sticks, sticks exactly. Every term of the energy is its own force times its own
//! way.

use core::f64::consts::FRAC_PI_2;

use dryturn_handoff::Energy;
use dryturn_units::maths;

/// What one axis is made of, in one trial; SI units.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Plant {
    pub(crate) constant_v_s: f64,
    pub(crate) resistance_ohm: f64,
    pub(crate) inductance_h: f64,
    pub(crate) motor_kg_m2: f64,
    pub(crate) layer_kg_m2: f64,
    pub(crate) bearing_n_m: f64,
    pub(crate) viscous_n_m_s: f64,
    pub(crate) cogging_n_m: f64,
    pub(crate) cogging_per_rad: f64,
    pub(crate) detent_n_m: f64,
    pub(crate) shaft_n_m_rad: f64,
    pub(crate) shaft_damping_n_m_s: f64,
    /// Half of the coupler's play.
    pub(crate) play_rad: f64,
}

/// Shares that a winding keeps over half a step: of the current loop's error, and of the
/// current's distance from where the voltage limit would take it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
    pub(crate) s: f64,
    loop_share: f64,
    winding_share: f64,
    /// Inverses, for a division takes as long as ten products.
    per_motor: f64,
    per_layer: f64,
    per_ohm: f64,
    /// `½ h (1/J₁ + 1/J₂)`.
    slip_share: f64,
}

impl Step {
    pub(crate) fn of(plant: &Plant, current_loop_s: f64, step_s: f64) -> Self {
        let (per_motor, per_layer) = (1.0 / plant.motor_kg_m2, 1.0 / plant.layer_kg_m2);
        Self {
            s: step_s,
            per_motor,
            per_layer,
            per_ohm: 1.0 / plant.resistance_ohm,
            slip_share: 0.5 * step_s * (per_motor + per_layer),
            loop_share: maths::exp(-0.5 * step_s / current_loop_s),
            winding_share: maths::exp(-0.5 * step_s * plant.resistance_ohm / plant.inductance_h),
        }
    }
}

/// The shaft's damping is all there from this strain on.
const ENGAGED_RAD: f64 = 0.002;

/// Where an axis is.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Moving {
    pub(crate) motor_rad: f64,
    pub(crate) motor_rad_s: f64,
    pub(crate) layer_rad: f64,
    pub(crate) layer_rad_s: f64,
    pub(crate) current_a: f64,
    /// What the controller asks for.
    pub(crate) asked_a: f64,
    /// Coulomb friction of the layer now.
    pub(crate) friction_n_m: f64,
    /// Torque in the shaft in the last step.
    pub(crate) shaft_n_m: f64,
    /// Torque on the layer in the last step, friction apart.
    pub(crate) on_layer_n_m: f64,
}

/// What neighbours do to a layer in one step.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Touch {
    /// Torque on the layer.
    pub(crate) push_n_m: f64,
    /// What it adds to the layer's friction.
    pub(crate) drag_n_m: f64,
}

/// Half-way angles of a step.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct HalfWay {
    pub(crate) motor_rad: f64,
    pub(crate) layer_rad: f64,
}

/// Friction that takes at most the speed that there is: the speed left, and the torque.
///
/// `most` is the speed that the friction takes in a step where there is more.
fn rub(speed: f64, friction_n_m: f64, most: f64) -> (f64, f64) {
    if speed.abs() <= most {
        let share = if most > 0.0 { speed / most } else { 0.0 };
        (0.0, friction_n_m * share)
    } else {
        (speed - most.copysign(speed), friction_n_m.copysign(speed))
    }
}

/// Mean torque over a step that sets a layer going which stood at its beginning, from the
/// torques on it half a step before and half a step after: what is above the friction, as
/// if it grew evenly.
fn loosened(before: f64, now: f64, friction_n_m: f64) -> f64 {
    let above = now.abs() - friction_n_m;
    let was = if now * before > 0.0 { before.abs() - friction_n_m } else { -friction_n_m };
    let growth = above - was;
    let (first, last) = (above - 0.5 * growth, above + 0.5 * growth);
    let mean = if last <= 0.0 {
        0.0
    } else if first >= 0.0 || growth <= 0.0 {
        above.max(0.0)
    } else {
        last * last / (2.0 * growth)
    };
    mean.copysign(now)
}

impl Moving {
    pub(crate) fn half_way(&self, step_s: f64) -> HalfWay {
        HalfWay {
            motor_rad: self.motor_rad + 0.5 * step_s * self.motor_rad_s,
            layer_rad: self.layer_rad + 0.5 * step_s * self.layer_rad_s,
        }
    }

    pub(crate) fn at_rest(&self) -> bool {
        self.motor_rad_s == 0.0 && self.layer_rad_s == 0.0
    }

    /// One step from its half way; gives the energy taken from the bus, J.
    pub(crate) fn kick(
        &mut self,
        plant: &Plant,
        step: &Step,
        half: HalfWay,
        voltage_v: f64,
        touch: Touch,
        energy: &mut Energy,
    ) -> f64 {
        let h = step.s;
        let (k, r) = (plant.constant_v_s, plant.resistance_ohm);
        // The winding: what the loop wants, within what the voltage can do.
        let asked = self.asked_a;
        let relaxed = |current: f64, speed: f64| {
            let wanted = asked + (current - asked) * step.loop_share;
            let towards = |volts: f64| {
                let end = (volts - k * speed) * step.per_ohm;
                end + (current - end) * step.winding_share
            };
            // Not `clamp`, which panics where a motion that grows without end has left no
            // number: the run then ends by its limits.
            let (least, most) = (towards(-voltage_v), towards(voltage_v));
            if wanted < least {
                least
            } else if wanted > most {
                most
            } else {
                wanted
            }
        };
        let before = self.current_a;
        let current = relaxed(before, self.motor_rad_s);
        // Torques.
        let twist = half.motor_rad - half.layer_rad;
        let strain = twist - twist.clamp(-plant.play_rad, plant.play_rad);
        let spring = plant.shaft_n_m_rad * strain;
        let cogging = plant.cogging_n_m * maths::quick_sin(plant.cogging_per_rad * half.motor_rad);
        let detent = plant.detent_n_m * maths::quick_sin(4.0 * half.layer_rad);
        let friction_n_m = self.friction_n_m + touch.drag_n_m;
        // What depends on speed is taken at the speed half-way, which the torques up to here
        // foretell. The shaft's damping starts from nothing where the play ends, so that
        // nothing jumps.
        let motor_pull = (k * current - spring - cogging) * step.per_motor;
        let layer_pull = (spring - detent + touch.push_n_m) * step.per_layer;
        let damped = plant.shaft_damping_n_m_s * (strain.abs() / ENGAGED_RAD).min(1.0);
        let stiff = damped * step.slip_share;
        let slip = self.motor_rad_s - self.layer_rad_s;
        let slip_grows = if self.layer_rad_s == 0.0 {
            motor_pull
        } else {
            let rubbing = friction_n_m.copysign(self.layer_rad_s) * step.per_layer;
            motor_pull - (layer_pull - rubbing)
        };
        let damping = damped * (slip + 0.5 * h * slip_grows) / (1.0 + stiff);
        let shaft = spring + damping;
        let viscous = plant.viscous_n_m_s * (self.motor_rad_s + 0.5 * h * motor_pull);
        let on_motor = k * current - shaft - viscous - cogging;
        let on_layer = shaft - detent + touch.push_n_m;
        let (motor_rad_s, bearing) = rub(
            self.motor_rad_s + h * step.per_motor * on_motor,
            plant.bearing_n_m,
            h * step.per_motor * plant.bearing_n_m,
        );
        let (layer_rad_s, rubbing) = if self.layer_rad_s == 0.0 {
            let loose = loosened(self.on_layer_n_m, on_layer, friction_n_m);
            (loose * h * step.per_layer, on_layer - loose)
        } else {
            let speed = self.layer_rad_s + h * step.per_layer * on_layer;
            rub(speed, friction_n_m, h * step.per_layer * friction_n_m)
        };
        // Ways, and what each torque did on them.
        let motor_way = half.motor_rad + 0.5 * h * motor_rad_s - self.motor_rad;
        let layer_way = half.layer_rad + 0.5 * h * layer_rad_s - self.layer_rad;
        let after = relaxed(current, motor_rad_s);
        let square = |a: f64, b: f64| a * a + a * b + b * b;
        let copper = r * h / 6.0 * (square(before, current) + square(current, after));
        energy.copper_j += copper;
        // What neighbours add to the friction is theirs.
        let theirs = if touch.drag_n_m > 0.0 { touch.drag_n_m / friction_n_m } else { 0.0 };
        energy.friction_j += (bearing + viscous) * motor_way
            + rubbing * (1.0 - theirs) * layer_way
            + damping * (motor_way - layer_way);
        energy.detent_j += cogging * motor_way + detent * layer_way;
        energy.jam_j += (rubbing * theirs - touch.push_n_m) * layer_way;
        // ∫ V i dt by the winding's law.
        let coil = 0.5 * plant.inductance_h * (after * after - before * before);
        let taken = copper + coil + k * current * motor_way;
        self.motor_rad += motor_way;
        self.layer_rad += layer_way;
        self.motor_rad_s = motor_rad_s;
        self.layer_rad_s = layer_rad_s;
        self.current_a = after;
        self.shaft_n_m = shaft;
        self.on_layer_n_m = on_layer;
        taken
    }

    /// What moves, and what is stored in winding and shaft, J.
    pub(crate) fn kinetic_and_stored(&self, plant: &Plant) -> (f64, f64) {
        let square = |x: f64| x * x;
        let twist = self.motor_rad - self.layer_rad;
        let strain = twist - twist.clamp(-plant.play_rad, plant.play_rad);
        (
            0.5 * (plant.motor_kg_m2 * square(self.motor_rad_s)
                + plant.layer_kg_m2 * square(self.layer_rad_s)),
            0.5 * (plant.inductance_h * square(self.current_a)
                + plant.shaft_n_m_rad * square(strain)),
        )
    }

    /// The stop that the layer is nearest to, in quarter turns.
    pub(crate) fn nearest_stop(&self) -> f64 {
        (self.layer_rad / FRAC_PI_2).round()
    }
}
