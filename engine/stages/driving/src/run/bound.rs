//! A time that no execution of a plan on this drive can beat.
//!
//! Each turn takes at least the fastest move with all the torque and voltage that there
//! is, on the axis as it was built. The next face may start before the one before has
//! ended, by as much as the pieces allow: turning against the late face's error it must
//! not be at the corners while friction still locks them, turning with it the shared row
//! must not be in its way (the exact rule of the interlock, tried at every moment of two
//! such moves). Latency, overhead and settling are left out.

use dryturn_cube::Turn;
use dryturn_handoff::Plan;
use dryturn_numerics::bisect_increasing;
use dryturn_units::radians;

use crate::contact::lucky;
use crate::plant::{Motion, Motor, rest_to_rest};
use crate::rig::{BuiltAxes, Machine};

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
            let free =
                |&(late, end_s): &(Turn, f64)| end_s - machine.overlaps.between_s(late, turn);
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
