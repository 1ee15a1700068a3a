//! A time that no execution of a plan on this drive can beat.
//!
//! Each turn takes at least the fastest move with all the torque and voltage that there
//! is, on the axis as it was built. The next face may start before the one before has
//! ended, by as much as the pieces allow: turning against the late face's error it must
//! not be at the corners while friction still locks them, turning with it the shared row
//! must not be in its way (the exact rule of the interlock, tried at every moment of two
//! such moves). Latency, overhead and settling are left out.

use dryturn_cube::{Amount, Turn};
use dryturn_handoff::Plan;
use dryturn_numerics::bisect_increasing;
use dryturn_units::radians;

use crate::axis::{Axis, Motor};
use crate::draws::BuiltAxes;
use crate::interlock::Interlock;
use crate::machine::Machine;
use crate::motion::{Motion, rest_to_rest};

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

    fn between(&self, first: Turn, second: Turn) -> f64 {
        let half = |turn: Turn| usize::from(turn.amount == Amount::Half);
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

fn lucky(motor: Motor) -> Motor {
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

/// The least time from the first command to the last stop, s.
pub(crate) fn bound_s(machine: &Machine, built: &BuiltAxes, plan: &Plan) -> f64 {
    let limit = &machine.axis.limit;
    // Braking pumps the bus up.
    let pumped_v = machine.file.drive.duty_share * machine.source.highest_v();
    let mut before: Vec<(Turn, f64)> = Vec::new();
    let mut last_s = 0.0f64;
    let mut window_s = 0.0f64;
    for (beat, turns) in plan.beats.iter().map(|beat| &beat.turns).enumerate() {
        let end = |&turn: &Turn| {
            let face = turn.face.index();
            let plant = &built.axes[face].plant;
            let motor = lucky(Motor {
                constant_v_s: plant.constant_v_s,
                voltage_v: pumped_v.max(limit.voltage_v),
                inertia_kg_m2: plant.motor_kg_m2 + plant.layer_kg_m2,
                friction_n_m: built.least_friction_n_m(machine, beat, face),
                ..*limit
            });
            let able = motor.constant_v_s
                * motor.current_limit_a.min(motor.voltage_v / motor.resistance_ohm);
            // Nor where there is no number.
            let moves = able > motor.friction_n_m;
            if !moves {
                return (turn, 0.0, 0.0);
            }
            let angle_rad = radians(turn.amount.angle_deg().abs());
            let motion = rest_to_rest(&motor, angle_rad, machine.axis.speed_limit_rad_s);
            let free = |&(late, end_s): &(Turn, f64)| end_s - machine.overlaps.between(late, turn);
            let start_s = before.iter().map(free).fold(0.0, f64::max);
            (turn, start_s + motion.duration_s, last_part_s(machine, &motion))
        };
        let ends: Vec<(Turn, f64, f64)> = turns.iter().map(end).collect();
        before = ends.iter().map(|&(turn, end_s, _)| (turn, end_s)).collect();
        for (_, end_s, part_s) in ends {
            last_s = last_s.max(end_s);
            window_s = window_s.max(part_s);
        }
    }
    (last_s - window_s).max(0.0)
}

/// A stop counts as soon as it is within the window: time of that part.
fn last_part_s(machine: &Machine, motion: &Motion) -> f64 {
    let window = radians(machine.file.handover.settle_window_deg);
    let wanted = 1.0 - (window / motion.angle_rad).min(1.0);
    let share = bisect_increasing(0.0, 1.0, |share| motion.progress(share) - wanted);
    motion.duration_s * (1.0 - share)
}
