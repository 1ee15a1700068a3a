//! A time that no execution of a plan can beat.
//!
//! `Σ min t − Σ overlap`: each beat takes at least the time of the fastest move of its
//! slowest face with all the torque and voltage that there is; the next beat can start
//! before its end by no more than its own way to the corners takes, and the rest of the
//! way that a late face may have before it lets corners past.

use dryturn_cube::{Amount, Turn};
use dryturn_handoff::{Beat, Plan};
use dryturn_units::{degrees, maths, radians};

use crate::machine::Machine;
use crate::motion::{Motion, rest_to_rest};

/// The least time from the first command to the last stop, s.
pub(crate) fn bound_s(machine: &Machine, plan: &Plan) -> f64 {
    let bounds = Bounds::of(machine);
    let mut total_s = 0.0;
    let mut before: Option<&Beat> = None;
    for beat in &plan.beats {
        let slowest = |beat: &Beat| {
            let times = beat.turns.iter().map(|turn| bounds.of_turn(*turn).duration_s);
            times.fold(0.0, f64::max)
        };
        let least_s = slowest(beat);
        if let Some(before) = before {
            total_s -= bounds.overlap_s(before).min(slowest(before)).min(least_s);
        }
        total_s += least_s;
        before = Some(beat);
    }
    // The last stop counts as soon as it is within the window.
    (total_s - bounds.window_s).max(0.0)
}

struct Bounds {
    quarter: Motion,
    half: Motion,
    /// The turning face's way to the corners, s.
    approach_s: f64,
    /// How far a late face may be off when corners get past it, rad.
    late_rad: f64,
    window_s: f64,
}

impl Bounds {
    fn of(machine: &Machine) -> Self {
        // What helps: no friction that a lucky trial might not have, a stronger motor.
        let mut motor = machine.axis.limit;
        let tolerances = &machine.file.tolerances;
        let luck = |sigma: f64| 1.0 + 4.0 * sigma;
        let friction =
            tolerances.friction_spread_sigma_share + tolerances.tension_spread_sigma_share;
        motor.friction_n_m *= (1.0 - 4.0 * friction).max(0.0);
        motor.current_limit_a *= luck(tolerances.torque_constant_spread_sigma_share);
        motor.inertia_kg_m2 *= 1.0 - 2.0 * tolerances.inertia_spread_sigma_share.min(0.4);
        let fastest = |amount: Amount| {
            rest_to_rest(&motor, radians(amount.angle_deg()), machine.axis.speed_limit_rad_s)
        };
        let interlock = &machine.interlock;
        let torque = motor.torque_n_m();
        let rate = (torque - motor.friction_n_m) / motor.inertia_kg_m2;
        // To the corners, and as far as the cube gives.
        let stiffness = machine.file.cube.stiffness_n_m_per_rad * machine.file.cube.tension_ratio;
        let way_rad = interlock.past_rad() + torque / stiffness;
        // With the motion, a face may be off by whatever the shared row allows there.
        let late_rad = radians(interlock.lock_deg()).max(interlock.wedge_rad(way_rad));
        let quarter = fastest(Amount::Clockwise);
        let window = radians(machine.file.handover.settle_window_deg);
        let window_s = last_s(&quarter, window);
        Self {
            approach_s: (2.0 * way_rad / rate).sqrt(),
            late_rad,
            half: fastest(Amount::Half),
            quarter,
            window_s,
        }
    }

    fn of_turn(&self, turn: Turn) -> &Motion {
        if turn.amount == Amount::Half { &self.half } else { &self.quarter }
    }

    /// By how much the beat after this one may start before its end, s.
    fn overlap_s(&self, beat: &Beat) -> f64 {
        let last = beat.turns.iter().map(|turn| last_s(self.of_turn(*turn), self.late_rad));
        self.approach_s + last.fold(0.0, f64::max)
    }
}

/// Time of the last so many radians of a move.
fn last_s(motion: &Motion, rad: f64) -> f64 {
    let wanted = 1.0 - (rad / motion.angle_rad).min(1.0);
    let share = maths::bisect_increasing(0.0, 1.0, |share| motion.progress(share) - wanted);
    debug_assert!(degrees(motion.angle_rad) > 0.0);
    motion.duration_s * (1.0 - share)
}
