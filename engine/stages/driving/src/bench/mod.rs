//! One axis on the bench, and what it logs: single moves at chosen shares of speed and
//! torque, or a spin-up after which the drive lets go. The same plant and controller as in
//! a run, with the errors of the trial, and measured as a real drive would.

mod error;
mod log;

use core::f64::consts::FRAC_PI_2;

use dryturn_cube::Face;
use dryturn_handoff::AxisLog;
use dryturn_scene::Scene;
use dryturn_units::noise::Draw;

use crate::control::{Planned, Setpoints};
use crate::execution::Execution;
use crate::plant::rest_to_rest;
use crate::rig::{BuiltAxes, Machine};
pub use error::BenchError;
use error::{MOST_S, MOST_SAMPLES};
use log::Taken;
pub use log::{BenchLog, LogNoise, run_log};

/// Rest that is logged before, between and after moves.
const REST_S: f64 = 0.02;
/// An axis lets go this share of the way along its spin-up, where it is fastest.
const LETS_GO_SHARE: f64 = 0.5;
/// From letting go until the current is gone.
const CURRENT_GONE_S: f64 = 0.002;
/// One move of an axis on the bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BenchMove {
    /// Where to, in quarter turns: 1 or 2, negative for anticlockwise.
    pub quarters: f64,
    /// Share of the highest speed that the drive's own profile would reach, above 0 to 1.
    pub speed_share: f64,
    /// Share of the drive's torque limit (of its acceleration limit for the profiles that
    /// have one) that the set-point is planned with, above 0 to 1. From about 0.95 on the
    /// controller runs into the limit.
    pub torque_share: f64,
}

/// One face's axis of one trial's rig, alone.
#[derive(Clone, Debug)]
pub struct Bench {
    machine: Machine,
    draw: Draw,
    face: usize,
}

impl Bench {
    /// The axis of a face of the rig of one trial.
    #[must_use]
    pub fn of(scene: &Scene, draw: Draw, face: Face) -> Self {
        Self { machine: Machine::of(scene), draw, face: face.index() }
    }

    fn execution<'a>(&'a self, courses: &'a [Setpoints]) -> Execution<'a> {
        let built = BuiltAxes::of(&self.machine, self.draw);
        Execution::new(&self.machine, built, courses, &[0.0; 6])
    }

    /// The set-points of a move; `number` is what messages call it.
    fn setpoints(&self, number: usize, to: &BenchMove) -> Result<Setpoints, BenchError> {
        let machine = &self.machine;
        let angle_rad = to.quarters.abs() * FRAC_PI_2;
        let mut axis = machine.axis;
        axis.planned.current_limit_a = axis.limit.current_limit_a * to.torque_share;
        axis.planned.voltage_v = axis.limit.voltage_v * to.torque_share.max(0.85);
        let (torque_n_m, friction_n_m) =
            (axis.planned.standing_torque_n_m(), axis.planned.friction_n_m);
        let moves = torque_n_m > friction_n_m;
        if !moves {
            return Err(BenchError::Weak {
                number,
                torque_share: to.torque_share,
                torque_n_m,
                friction_n_m,
                least_share: friction_n_m / axis.limit.torque_n_m(),
            });
        }
        let fastest = rest_to_rest(&axis.planned, angle_rad, axis.speed_limit_rad_s);
        axis.speed_limit_rad_s = fastest.peak_speed_rad_s * to.speed_share;
        let mut drive = machine.file.drive.clone();
        drive.acceleration_limit_rad_s2 *= to.torque_share;
        // Before memory is asked for.
        let planned = Planned::of(&drive, &axis, angle_rad);
        let duration_s = planned.duration_s;
        let fits = duration_s <= MOST_S;
        if !fits {
            return Err(BenchError::Slow {
                number,
                duration_s,
                steps: duration_s / machine.tick_s,
                most_steps: (MOST_S / machine.tick_s) as usize,
            });
        }
        Ok(Setpoints::of(&planned, 1.0, machine.tick_s, machine.belief))
    }

    /// Moves one after the other, each from rest to rest. A move that does not settle within
    /// a second ends the log.
    ///
    /// # Errors
    /// A move that the drive has no torque for or that takes more than a second, or more moves
    /// than a log may have samples for (half a million).
    pub fn moves(&self, moves: &[BenchMove], noise: LogNoise) -> Result<BenchLog, BenchError> {
        let rest_ticks = (REST_S / self.machine.tick_s) as usize;
        let mut courses: Vec<Setpoints> = Vec::new();
        let mut samples = rest_ticks;
        for (place, to) in moves.iter().enumerate() {
            let course = self.setpoints(place + 1, to)?;
            samples += course.ticks.len() + rest_ticks;
            if samples > MOST_SAMPLES {
                return Err(BenchError::Long { moves: moves.len(), samples });
            }
            courses.push(course);
        }
        let mut execution = self.execution(&courses);
        let mut taken = Taken::new(self.face, self.draw, noise);
        let most_ticks = (MOST_S / self.machine.tick_s) as usize;
        let mut friction_n_m = Vec::new();
        taken.ticks(&mut execution, rest_ticks);
        for (number, to) in moves.iter().enumerate() {
            let friction = execution.built.friction_n_m(&self.machine, number, self.face);
            friction_n_m.push(friction);
            let beyond_rad = self.machine.beyond_rad(self.face);
            execution.start(self.face, number, (to.quarters * FRAC_PI_2, beyond_rad), friction);
            let mut left = most_ticks;
            while !execution.axes[self.face].servo.rests && left > 0 {
                taken.ticks(&mut execution, 1);
                left -= 1;
            }
            if left == 0 || taken.log.len() + rest_ticks > MOST_SAMPLES {
                break;
            }
            taken.ticks(&mut execution, rest_ticks);
        }
        Ok(self.with_truth(taken.log, &execution.built, &friction_n_m))
    }

    /// Spins up by a move, lets go where it is fastest, and logs angles alone until the axis
    /// stands.
    ///
    /// # Errors
    /// A spin-up that the drive has no torque for, or that takes more than a second.
    pub fn coasting(&self, spin_up: &BenchMove, noise: LogNoise) -> Result<BenchLog, BenchError> {
        let course = [self.setpoints(1, spin_up)?];
        let mut execution = self.execution(&course);
        let friction_n_m = execution.built.friction_n_m(&self.machine, 0, self.face);
        execution.start(self.face, 0, (spin_up.quarters * FRAC_PI_2, 0.0), friction_n_m);
        let tick_s = self.machine.tick_s;
        let spins = (course[0].ticks.len() as f64 * LETS_GO_SHARE) as usize;
        (0..spins).for_each(|_| execution.advance());
        execution.let_go();
        (0..(CURRENT_GONE_S / tick_s) as usize).for_each(|_| execution.advance());
        let mut taken = Taken::new(self.face, self.draw, noise);
        let most = (MOST_S / tick_s) as usize;
        let turns = |execution: &Execution<'_>| !execution.axes[self.face].moving.at_rest();
        while turns(&execution) && taken.log.len() < most {
            taken.ticks(&mut execution, 1);
        }
        taken.ticks(&mut execution, (REST_S / tick_s) as usize);
        let log = AxisLog { speed_rad_s: None, current_a: None, ..taken.log };
        Ok(self.with_truth(log, &execution.built, &[friction_n_m]))
    }

    fn with_truth(&self, log: AxisLog, built: &BuiltAxes, layer_n_m: &[f64]) -> BenchLog {
        let plant = &built.axes[self.face].plant;
        let limit = &self.machine.axis.limit;
        BenchLog {
            log,
            inertia_kg_m2: plant.motor_kg_m2 + plant.layer_kg_m2,
            constant_n_m_per_a: plant.constant_v_s,
            friction_n_m: layer_n_m.iter().map(|own| own + plant.bearing_n_m).collect(),
            limit_n_m: limit.current_limit_a * plant.constant_v_s,
        }
    }
}

#[cfg(test)]
mod tests {
    use dryturn_units::noise::Seed;
    use dryturn_units::radians;

    use super::*;
    use crate::support::workbench;

    fn bench(trial: u64) -> Bench {
        Bench::of(&workbench(&[]), Seed::new(1).trial(trial), Face::R)
    }

    fn to(quarters: f64, speed_share: f64) -> BenchMove {
        BenchMove { quarters, speed_share, torque_share: 0.85 }
    }

    /// Each move ends where it shall, at the share of the speed that was asked for, and the
    /// log is the same every time.
    #[test]
    fn moves_go_where_they_shall() {
        let moves = [to(1.0, 1.0), to(-2.0, 0.5)];
        let made = bench(0).moves(&moves, LogNoise::default()).unwrap();
        let log = &made.log;
        let speeds = log.speed_rad_s.as_ref().unwrap();
        let fastest = |sign: f64| speeds.iter().map(|speed| sign * speed).fold(0.0, f64::max);
        assert!((log.angle_deg[log.len() - 1] + 90.0).abs() < 1.0);
        assert!((60.0..150.0).contains(&fastest(1.0)), "{}", fastest(1.0));
        assert!((40.0..100.0).contains(&fastest(-1.0)), "{}", fastest(-1.0));
        assert!((made.inertia_kg_m2 / 8e-5 - 1.0).abs() < 0.1);
        assert_eq!(made, bench(0).moves(&moves, LogNoise::default()).unwrap());
        let noise = LogNoise { angle_sigma_deg: 0.02, ..LogNoise::default() };
        assert_ne!(made.log, bench(0).moves(&moves, noise).unwrap().log);
    }

    /// What an axis cannot do is said with the figures, before anything is asked of memory.
    #[test]
    fn moves_that_cannot_be_made_are_refused() {
        let asked = |moves: &[BenchMove]| {
            bench(0).moves(moves, LogNoise::default()).unwrap_err().to_string()
        };
        let weak = asked(&[to(1.0, 1.0), BenchMove { torque_share: 0.1, ..to(1.0, 1.0) }]);
        assert!(weak.starts_with("move 2: 0.1 of the drive's torque is 0."), "{weak}");
        assert!(weak.contains("friction takes 0.1560 N·m"), "{weak}");
        // What it says is enough is.
        let least: f64 = weak.split("above ").nth(1).unwrap().parse().unwrap();
        let just = BenchMove { torque_share: least + 1e-3, ..to(1.0, 1.0) };
        assert!(bench(0).moves(&[just], LogNoise::default()).is_ok(), "{weak}");
        assert_eq!(
            asked(&[to(1.0, 1e-12)]).split(", ").nth(1),
            Some("1.4e14 steps of the controller: at most 8000")
        );
        for share in [1e-3, 1e-300, f64::MIN_POSITIVE] {
            let slow = asked(&[to(-2.0, share)]);
            assert!(slow.starts_with("move 1 takes ") && slow.len() < 200, "{slow}");
        }
        let spin_up = BenchMove { torque_share: 0.1, ..to(2.0, 1.0) };
        let error = bench(0).coasting(&spin_up, LogNoise::default()).unwrap_err();
        assert!(matches!(error, BenchError::Weak { number: 1, .. }), "{error}");
        let many = vec![to(1.0, 0.05); 1000];
        assert!(asked(&many).ends_with("at most 500000 in one log"), "{}", asked(&many));
    }

    /// A coasting axis only slows down, and stops.
    #[test]
    fn a_coasting_axis_slows_down() {
        let log = bench(3).coasting(&to(2.0, 1.0), LogNoise::default()).unwrap().log;
        assert!(log.current_a.is_none() && log.speed_rad_s.is_none());
        let speed = |k: usize| radians(log.angle_deg[k + 16] - log.angle_deg[k]) / 0.002;
        let last = log.len() - 20;
        assert!(speed(0) > 40.0 && speed(last).abs() < 0.5, "{} {}", speed(0), speed(last));
        // The shaft swings a little; ten milliseconds on it is slower, or stands.
        assert!((0..last - 80).all(|k| speed(k + 80) < speed(k).max(3.0)));
    }
}
