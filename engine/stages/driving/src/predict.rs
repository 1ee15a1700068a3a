//! When each beat of a plan starts and how long it takes, if nothing is off: the
//! timing that a plan is made for and compared with.

use dryturn_cube::{Amount, Face, Turn};
use dryturn_handoff::Plan;
use dryturn_scene::Scene;
use dryturn_units::{degrees, maths, radians};

use crate::axis::Axis;
use crate::motion::{Motion, rest_to_rest};

/// The predicted times of one beat, seconds from the start of the plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeatTime {
    /// When its slowest face starts.
    pub start_s: f64,
    /// When its slowest face reaches its stop.
    pub stop_s: f64,
    /// When the next beat may be commanded: within the release angle.
    pub release_s: f64,
}

/// Timing of the drive of one scene, without its errors.
#[derive(Clone, Debug)]
pub struct Timing {
    quarter: Motion,
    half: Motion,
    release_deg: f64,
    /// From command to start of the first beat, and of the others: mean latency and
    /// half a loop period, then the overhead too.
    wait_s: (f64, f64),
}

impl Timing {
    /// Of a scene's drive.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        let drive = &scene.file().drive;
        let axis = Axis::of(drive);
        let motion = |amount: Amount| {
            rest_to_rest(&axis.planned, radians(amount.angle_deg()), axis.speed_limit_rad_s)
        };
        let first = (drive.command_latency_ms + drive.loop_period_ms / 2.0) * 1e-3;
        Self {
            quarter: motion(Amount::Clockwise),
            half: motion(Amount::Half),
            release_deg: drive.release_angle_deg,
            wait_s: (first, first + drive.overhead_ms * 1e-3),
        }
    }

    fn motion(&self, turn: Turn) -> &Motion {
        if turn.amount == Amount::Half { &self.half } else { &self.quarter }
    }

    /// Duration of a turn's profile, s.
    #[must_use]
    pub fn turn_s(&self, turn: Turn) -> f64 {
        self.motion(turn).duration_s
    }

    /// From a turn's start until it is within the release angle, s.
    fn release_s(&self, turn: Turn) -> f64 {
        let motion = self.motion(turn);
        let wanted = 1.0 - (self.release_deg / degrees(motion.angle_rad)).min(1.0);
        motion.duration_s
            * maths::bisect_increasing(0.0, 1.0, |share| motion.progress(share) - wanted)
    }

    /// From the start of a beat to the start of the next, s: of quarter turns, and
    /// with a half turn in it.
    #[must_use]
    pub fn beat_s(&self) -> (f64, f64) {
        let of = |amount| self.release_s(Turn { face: Face::U, amount }) + self.wait_s.1;
        (of(Amount::Clockwise), of(Amount::Half))
    }

    /// The times of a plan's beats.
    #[must_use]
    pub fn predict(&self, plan: &Plan) -> Vec<BeatTime> {
        let mut command_s = 0.0;
        let beat = |(index, beat): (usize, &dryturn_handoff::Beat)| {
            let wait_s = if index == 0 { self.wait_s.0 } else { self.wait_s.1 };
            let start_s = command_s + wait_s;
            let last = |of: &dyn Fn(Turn) -> f64| {
                start_s + beat.turns.iter().map(|&turn| of(turn)).fold(0.0, f64::max)
            };
            let stop_s = last(&|turn| self.turn_s(turn));
            let release_s = last(&|turn| self.release_s(turn));
            command_s = release_s;
            BeatTime { start_s, stop_s, release_s }
        };
        plan.beats.iter().enumerate().map(beat).collect()
    }

    /// Time of a plan from the first command to the last stop, s.
    #[must_use]
    pub fn total_s(&self, plan: &Plan) -> f64 {
        self.predict(plan).iter().map(|time| time.stop_s).fold(0.0, f64::max)
    }
}
