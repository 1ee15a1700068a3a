//! One axis at a moment.

use core::f64::consts::FRAC_PI_2;

use crate::contact::Facing;
use crate::control::Servo;
use crate::plant::Moving;

/// One axis now.
#[derive(Clone, Debug)]
pub(crate) struct AxisNow {
    pub(crate) moving: Moving,
    pub(crate) servo: Servo,
    pub(crate) awake: bool,
    /// Whether its drive has let go.
    pub(crate) off: bool,
    pub(crate) still_ticks: u32,
    /// Friction of its layer in its present turn, without run-out.
    pub(crate) turn_friction_n_m: f64,
    /// The stop that it has left, in quarter turns.
    pub(crate) left: f64,
    pub(crate) nearest: f64,
    /// Number of its last command, from 1; 0 before the first.
    pub(crate) order: usize,
    /// The beat that it belongs to.
    pub(crate) beat: usize,
    /// Copper loss so far, J, and warmth of the winding above ambient.
    pub(crate) copper_j: f64,
    pub(crate) winding_k: f64,
    pub(crate) warmest_k: f64,
    /// Largest torque in the shaft in the present tick, and ever.
    pub(crate) tick_torque_n_m: f64,
    pub(crate) peak_torque_n_m: f64,
    pub(crate) peak_current_a: f64,
}

impl AxisNow {
    /// One that stands, with its friction, before its first command.
    pub(super) fn standing(at_rad: f64, servo: Servo, friction_n_m: f64) -> Self {
        Self {
            moving: Moving {
                motor_rad: at_rad,
                layer_rad: at_rad,
                friction_n_m,
                ..Moving::default()
            },
            servo,
            awake: true,
            off: false,
            still_ticks: 0,
            turn_friction_n_m: friction_n_m,
            left: 0.0,
            nearest: 0.0,
            order: 0,
            beat: 0,
            copper_j: 0.0,
            winding_k: 0.0,
            warmest_k: 0.0,
            tick_torque_n_m: 0.0,
            peak_torque_n_m: 0.0,
            peak_current_a: 0.0,
        }
    }

    pub(crate) fn off_stop_rad(&self) -> f64 {
        self.moving.layer_rad - self.nearest * FRAC_PI_2
    }

    pub(crate) fn turned_rad(&self) -> f64 {
        self.moving.layer_rad - self.left * FRAC_PI_2
    }

    pub(crate) fn facing(&self, layer_rad: f64) -> Facing {
        Facing {
            off_rad: layer_rad - self.nearest * FRAC_PI_2,
            turned_rad: layer_rad - self.left * FRAC_PI_2,
            speed_rad_s: self.moving.layer_rad_s,
        }
    }
}
