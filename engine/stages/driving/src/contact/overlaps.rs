//! By how much two turns in a row may overlap at the very most, all luck and all torque given.

use dryturn_cube::{Amount, Turn};
use dryturn_numerics::bisect_increasing;
use dryturn_units::radians;

use super::Interlock;
use crate::control::kind;
use crate::plant::{Axis, Motion, Motor, rest_to_rest};

/// Luck that a trial may have beyond its drawn figures: cogging, detent and run-out help.
const LUCK_SHARE: f64 = 0.03;
/// What pieces and shafts give way before they block, rad (assumed, generous).
const GIVE_RAD: f64 = 0.01;
/// Moments at which two moves are compared.
const MOMENTS: usize = 80;

/// Largest overlap of two turns in a row: by whether the first is a half turn, whether the
/// second is, and whether they turn in the same sense.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Overlaps([f64; 8]);

impl Overlaps {
    pub(crate) fn of(axis: &Axis, interlock: &Interlock) -> Self {
        let motor = lucky(axis.limit);
        let fastest = |half: bool| {
            let amount = if half { Amount::Half } else { Amount::Clockwise };
            rest_to_rest(&motor, radians(amount.angle_deg()), axis.speed_limit_rad_s)
        };
        let motions = [fastest(false), fastest(true)];
        let overlap = |index: usize| {
            let (first, second) = (&motions[index & 1], &motions[index >> 1 & 1]);
            overlap_s(interlock, first, second, index >> 2 == 1)
        };
        Self(core::array::from_fn(overlap))
    }

    pub(crate) fn between_s(&self, first: Turn, second: Turn) -> f64 {
        let half = |turn: Turn| kind(turn.amount);
        // A half turn may go either way about: the more favourable counts.
        let sense = |turn: Turn| turn.amount.angle_deg().signum();
        let at = |same: usize| self.0[half(first) | half(second) << 1 | same << 2];
        if half(first) + half(second) > 0 {
            at(0).max(at(1))
        } else {
            at(usize::from(sense(first) == sense(second)))
        }
    }
}

/// A motor with the luck that a trial may have.
pub(crate) fn lucky(motor: Motor) -> Motor {
    Motor {
        current_limit_a: motor.current_limit_a * (1.0 + LUCK_SHARE),
        voltage_v: motor.voltage_v * (1.0 + LUCK_SHARE),
        friction_n_m: motor.friction_n_m * (1.0 - LUCK_SHARE),
        ..motor
    }
}

/// How long before the end of one move the other may start.
fn overlap_s(interlock: &Interlock, first: &Motion, second: &Motion, same_sense: bool) -> f64 {
    let most = first.duration_s.min(second.duration_s);
    let lock_rad = radians(interlock.lock_deg());
    let fits = |overlap: f64| {
        (0..MOMENTS).all(|i| {
            let t = overlap * i as f64 / MOMENTS as f64;
            let turned = second.angle_at(t);
            let late = first.angle_rad - first.angle_at(first.duration_s - overlap + t);
            // A face that has not come far enough is off against its own sense.
            let allowed = if same_sense {
                if turned < interlock.past_rad() { f64::INFINITY } else { lock_rad }
            } else {
                interlock.wedge_rad(turned - GIVE_RAD)
            };
            turned < GIVE_RAD || late <= allowed + GIVE_RAD
        })
    };
    bisect_increasing(0.0, most, |overlap| if fits(overlap) { -1.0 } else { 1.0 })
}
