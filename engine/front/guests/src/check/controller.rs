//! A short run for a controller, on ideal axes: one mass with dry friction each, whose current is
//! what is asked for within the limit, or whose angle is the set-point. After 10 ms a quarter turn
//! of U is commanded, after 200 ms a half turn of R against the clock.

use dryturn_cube::Face;
use dryturn_units::degrees;

use super::Asking;
use crate::command::{GuestCommand, Limits};
use crate::roles::{
    AxisAnswer, AxisView, ControlBegin, ControlView, DeclaredMoves, GuestController,
};

/// Ticks and their length; all moves are over by then.
const TICKS: u64 = 800;
const TICK_S: f64 = 0.5e-3;
/// When moves are commanded: tick, axis, where to.
const MOVES: [(u64, Face, f64); 2] = [(20, Face::U, 90.0), (400, Face::R, -180.0)];
/// Steps of the mass in a tick.
const STEPS: u32 = 10;
/// So near to its stop a face must be at the end: nine times a usual settle window.
const NEAR_DEG: f64 = 4.5;
const COUNTS: u32 = 1 << 14;

/// An axis of the size that small servo axes have (assumed).
fn begin() -> ControlBegin {
    ControlBegin {
        tick_s: TICK_S,
        axes: 6,
        counts_per_turn: COUNTS,
        current_limit_a: 6.0,
        torque_constant_n_m_per_a: 0.095,
        inertia_kg_m2: 8e-5,
        friction_n_m: 0.156,
        viscous_friction_n_m_s: 1e-5,
        bus_v: 48.0,
        latency_s: 0.0,
        hold_current_a: 6.0,
        resistance_ohm: 0.4,
        inductance_mh: 0.3,
        settle_window_deg: 0.5,
        moves: DeclaredMoves {
            profile: "MinimumTime".to_owned(),
            planned_torque_share: 0.85,
            speed_limit_rad_s: 400.0,
            acceleration_limit_rad_s2: 3500.0,
            quarter_turn_s: 0.045,
            half_turn_s: 0.065,
        },
    }
}

/// An axis as it moves.
#[derive(Clone, Copy, Default)]
struct Mass {
    angle_deg: f64,
    speed_rad_s: f64,
    current_a: f64,
}

impl Mass {
    fn step(&mut self, answer: AxisAnswer, begin: &ControlBegin) {
        let asked_a = match answer {
            AxisAnswer::Setpoint { angle_deg, .. } => {
                self.angle_deg = angle_deg;
                return;
            }
            AxisAnswer::Current { current_a } => current_a,
        };
        self.current_a = asked_a.clamp(-begin.current_limit_a, begin.current_limit_a);
        let step_s = TICK_S / f64::from(STEPS);
        for _ in 0..STEPS {
            let drive = begin.torque_constant_n_m_per_a * self.current_a;
            // Friction stops the mass, and never pushes it.
            let free = self.speed_rad_s + drive / begin.inertia_kg_m2 * step_s;
            let braked = begin.friction_n_m / begin.inertia_kg_m2 * step_s;
            self.speed_rad_s = free.signum() * (free.abs() - braked).max(0.0);
            self.angle_deg += degrees(self.speed_rad_s * step_s);
        }
    }

    fn counts(&self) -> i32 {
        (self.angle_deg / 360.0 * f64::from(COUNTS)).floor() as i32
    }
}

pub(super) fn check(command: &GuestCommand, limits: Limits, asking: &mut Asking) {
    let Some(mut guest) = asking.ask("hello", || GuestController::start(command, limits)) else {
        return;
    };
    asking.met(guest.session().name());
    let begin = begin();
    if asking.ask("begin", || guest.begin(&begin)).is_some() {
        asking.findings.asked.push(format!("{TICKS} records"));
        run(&begin, &mut guest, asking);
    }
    asking.ask("goodbye", || guest.goodbye());
}

fn run(begin: &ControlBegin, guest: &mut GuestController, asking: &mut Asking) {
    let mut masses = [Mass::default(); 6];
    let mut seen = [AxisView::default(); 6];
    let mut beyond: Option<(u64, f64)> = None;
    for tick in 0..TICKS {
        for (_, face, to_deg) in MOVES.into_iter().filter(|(at, ..)| *at == tick) {
            seen[face.index()].target_deg = to_deg;
            seen[face.index()].move_number += 1;
        }
        for (axis, mass) in seen.iter_mut().zip(&masses) {
            (axis.encoder_counts, axis.current_a) = (mass.counts(), mass.current_a);
        }
        let time_s = tick as f64 * TICK_S;
        let view = ControlView { tick, time_s, bus_v: begin.bus_v, axes: seen };
        let (what, asked) = (format!("record {tick}"), asking.findings.asked.len());
        let answer = asking.ask(&what, || guest.tick(&view));
        // Hundreds of records are one question.
        asking.findings.asked.truncate(asked);
        let Some(answer) = answer else { return };
        for (mass, axis) in masses.iter_mut().zip(answer.axes) {
            if let AxisAnswer::Current { current_a } = axis
                && current_a.abs() > begin.current_limit_a
            {
                beyond.get_or_insert((tick, current_a));
            }
            mass.step(axis, begin);
        }
    }
    if let Some((tick, current_a)) = beyond {
        let limit = begin.current_limit_a;
        let allowed = format!("{} to {limit} A: the drive gives no more", -limit);
        asking.wrong(&format!("record {tick}"), format!("it asks for {current_a} A"), allowed);
    }
    for (face, (mass, axis)) in Face::ALL.iter().zip(masses.iter().zip(&seen)) {
        let off_deg = mass.angle_deg - axis.target_deg;
        if off_deg.abs() > NEAR_DEG {
            let wrong = format!("{face} is {off_deg:.1} degrees off its stop at the end");
            asking.wrong(&format!("{TICKS} records"), wrong, format!("at most {NEAR_DEG} degrees"));
        }
    }
}
