//! The run: beats one after another on one clock with a fixed step.

use dryturn_cube::{Amount, CubeState, Face, Turn};
use dryturn_handoff::{BeatRun, End, Jam, Plan, Run, Trace, TurnRun};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use dryturn_units::radians;

use crate::axis::{Axis, Motor};
use crate::interlock::{Interlock, Torques};
use crate::motion::rest_to_rest;
use crate::moves::{AxisNow, Move, off_stop};

/// Step of the clock.
const STEP_S: f64 = 5e-5;
/// Every how many steps a sample of the angles is kept: 0.5 ms.
const STEPS_PER_SAMPLE: usize = 10;
/// How many settling times the run is watched after its last stop.
const TAIL_SETTLES: f64 = 8.0;
/// Share of the attainable torque that drawn friction takes at most: beyond it
/// the axis would stand still; it crawls instead.
const MOST_FRICTION_SHARE: f64 = 0.95;

struct Simulation<'a> {
    scene: &'a Scene,
    axis: Axis,
    interlock: Interlock,
    axes: [AxisNow; 6],
    seed: Seed,
    trial: u64,
    step: usize,
    trace: Trace,
    beats: Vec<BeatRun>,
}

/// Turns the cube `start` by `plan` on the scene's axes. `seed` and `trial`
/// name the draws of timing, friction, stop and encoder errors. A jam is a
/// result: it ends the run.
#[must_use]
pub fn simulate(scene: &Scene, start: &CubeState, plan: &Plan, seed: Seed, trial: u64) -> Run {
    let simulation = Simulation {
        scene,
        axis: Axis::of(&scene.file().drive),
        interlock: Interlock::of(&scene.file().cube),
        axes: Default::default(),
        seed,
        trial,
        step: 0,
        trace: Trace { step_s: STEP_S * STEPS_PER_SAMPLE as f64, angles_deg: Vec::new() },
        beats: Vec::new(),
    };
    simulation.run(start, plan)
}

impl Simulation<'_> {
    fn now_s(&self) -> f64 {
        self.step as f64 * STEP_S
    }

    fn run(mut self, start: &CubeState, plan: &Plan) -> Run {
        let jam = self.turn_all(plan);
        let total_s = jam.as_ref().map_or_else(|| self.last_stop_s(), |jam| jam.time_s);
        let nominal = self
            .torques((self.axis.limit.friction_n_m, self.hold_n_m()), self.axis.limit.friction_n_m);
        Run {
            final_state: self.final_state(start, plan),
            free_deg: self.interlock.free_deg,
            jam_deg: self.interlock.jam_deg(&nominal),
            beats: self.beats,
            trace: self.trace,
            total_s,
            end: jam.map_or(End::Completed, End::Jammed),
        }
    }

    fn turn_all(&mut self, plan: &Plan) -> Option<Jam> {
        let release_deg = self.scene.file().drive.release_angle_deg.max(1e-3);
        for (index, beat) in plan.beats.iter().enumerate() {
            // A face that turns again first comes to rest.
            let again = |sim: &Self| {
                let t = sim.now_s();
                let axis = |turn: &Turn| sim.axes[turn.face.index()].current.as_ref();
                beat.turns.iter().filter_map(axis).all(|m| m.settled(t))
            };
            if let Some(jam) = self.advance_until(again) {
                return Some(jam);
            }
            self.start_beat(index, &beat.turns);
            let released = |sim: &Self| {
                let t = sim.now_s();
                let moves = sim.axes.iter().filter_map(|axis| axis.current.as_ref());
                moves.filter(|m| m.beat == index).all(|m| m.within(release_deg, t))
            };
            if let Some(jam) = self.advance_until(released) {
                return Some(jam);
            }
        }
        let settle_s = self.scene.file().drive.settle_time_constant_ms * 1e-3;
        let end_s = self.last_stop_s() + TAIL_SETTLES * settle_s;
        self.advance_until(|sim| sim.now_s() >= end_s)
    }

    /// Draws the errors of one beat and sets its faces on their way.
    fn start_beat(&mut self, index: usize, turns: &[Turn]) {
        let file = self.scene.file();
        let (drive, tolerances) = (&file.drive, &file.tolerances);
        let mut runs = Vec::new();
        for &turn in turns {
            let stream = index as u64 * 6 + turn.face.index() as u64;
            let mut noise = self.seed.stream("drive", self.trial, stream);
            let wait_ms = drive.command_latency_ms
                + drive.loop_period_ms * noise.uniform()
                + if index > 0 { drive.overhead_ms } else { 0.0 };
            let angle_rad = radians(turn.amount.angle_deg().abs());
            let motion = rest_to_rest(&self.axis.planned, angle_rad, self.axis.speed_limit_rad_s);
            let spread = 1.0 + tolerances.friction_spread_sigma_share * noise.gaussian();
            let most = MOST_FRICTION_SHARE * self.axis.limit.torque_n_m();
            let friction_n_m = (drive.friction_torque_n_m * spread).clamp(0.0, most);
            // As planned while the whole torque limit can make up for the
            // friction, else as long as that limit needs.
            let strained = Motor { friction_n_m, ..self.axis.limit };
            let at_limit = rest_to_rest(&strained, angle_rad, self.axis.speed_limit_rad_s);
            let duration_s = motion.duration_s.max(at_limit.duration_s);
            let stop_error_deg = tolerances.stop_error_sigma_deg * noise.gaussian();
            let offset_deg = tolerances.encoder_error_deg * noise.between(-1.0, 1.0);
            let start_s = self.now_s() + wait_ms * 1e-3;
            let axis = &mut self.axes[turn.face.index()];
            let before = axis.current.take();
            axis.current = Some(Move {
                turn,
                beat: index,
                start_s,
                duration_s,
                motion,
                from_deg: before.as_ref().map_or(0.0, Move::target_deg),
                stop_error_deg,
                settle_s: drive.settle_time_constant_ms * 1e-3,
                offsets_deg: (before.map_or(0.0, |m| m.offsets_deg.1), offset_deg),
                friction_n_m,
            });
            runs.push(TurnRun { turn, start_s, stop_s: start_s + duration_s });
        }
        self.beats.push(BeatRun { beat: index, turns: runs, worst_offset_deg: 0.0 });
    }

    fn last_stop_s(&self) -> f64 {
        self.beats.iter().map(BeatRun::stop_s).fold(0.0, f64::max)
    }

    fn hold_n_m(&self) -> f64 {
        self.axis.limit.torque_n_m() * self.scene.file().drive.hold_torque_share
    }

    /// Steps the clock until `done`, or until a jam. Every profile ends and every
    /// error dies away, so it always comes to an end.
    fn advance_until(&mut self, done: impl Fn(&Self) -> bool) -> Option<Jam> {
        while !done(self) {
            let t = self.now_s();
            let angles: [f64; 6] = core::array::from_fn(|i| self.axes[i].face_deg(t));
            if self.step.is_multiple_of(STEPS_PER_SAMPLE) {
                self.trace.angles_deg.push(angles);
            }
            if let Some(jam) = self.find_jam(t, &angles) {
                return Some(jam);
            }
            self.step += 1;
        }
        None
    }

    /// Looks for a turning face that has reached a neighbour of an earlier beat
    /// which is further off its stop than the interlock allows.
    fn find_jam(&mut self, t: f64, angles: &[f64; 6]) -> Option<Jam> {
        let off = angles.map(|angle| off_stop(angle).abs());
        for face in Face::ALL {
            let Some(turning) = self.axes[face.index()].current.as_ref().filter(|m| m.turning(t))
            else {
                continue;
            };
            for other in Face::ALL.into_iter().filter(|other| !other.same_axis(face)) {
                let (late, offset) =
                    (self.axes[other.index()].current.as_ref(), off[other.index()]);
                // The later beat is the one that is blocked.
                let earlier = late.is_some_and(|m| m.beat < turning.beat);
                if !earlier || off[face.index()] < self.interlock.contact_deg(offset) {
                    continue;
                }
                let record = &mut self.beats[turning.beat].worst_offset_deg;
                *record = record.max(offset);
                if offset <= self.interlock.free_deg {
                    continue;
                }
                let allowed_deg = self.interlock.jam_deg(&self.torques_of(late, turning, t));
                if offset > allowed_deg {
                    return Some(Jam {
                        time_s: t,
                        beat: turning.beat,
                        late_face: other,
                        late_angle_deg: offset,
                        allowed_deg,
                        blocked_face: face,
                        blocked_angle_deg: off[face.index()],
                        blame: self.blame(other, t),
                    });
                }
            }
        }
        None
    }

    fn torques(&self, late: (f64, f64), turning_friction_n_m: f64) -> Torques {
        Torques {
            late_friction_n_m: late.0,
            late_hold_n_m: late.1,
            turning_friction_n_m,
            turning_limit_n_m: self.axis.limit.torque_n_m(),
        }
    }

    /// A late face resists with all its torque while its profile runs, and with
    /// the hold torque after that.
    fn torques_of(&self, late: Option<&Move>, turning: &Move, t: f64) -> Torques {
        let in_profile = late.is_some_and(|m| t < m.profile_end_s());
        let hold = if in_profile { self.axis.limit.torque_n_m() } else { self.hold_n_m() };
        let friction = late.map_or(self.axis.limit.friction_n_m, |m| m.friction_n_m);
        self.torques((friction, hold), turning.friction_n_m)
    }

    fn blame(&self, late: Face, t: f64) -> String {
        let Some(m) = &self.axes[late.index()].current else {
            return format!("{late} stood off its stop from the start");
        };
        let by_encoder = (m.encoder_deg(t) - m.target_deg()).abs();
        if t < m.profile_end_s() {
            let release = self.scene.file().drive.release_angle_deg;
            format!(
                "the release angle of {release}° let the next beat start before {late} had stopped"
            )
        } else if m.offsets_deg.1.abs() > by_encoder {
            let offset = m.offsets_deg.1;
            format!("the encoder of {late} sits {offset:.2}° off its face, which no settling cures")
        } else {
            let error = m.stop_error_deg;
            format!("{late} had ended its profile {error:.2}° off its stop and not yet settled")
        }
    }

    /// Each face counts at the stop that it is nearest to.
    fn final_state(&self, start: &CubeState, plan: &Plan) -> CubeState {
        let t = self.now_s();
        let mut state = *start;
        for (index, beat) in plan.beats.iter().enumerate().take(self.beats.len()) {
            for &turn in &beat.turns {
                let current = self.axes[turn.face.index()].current.as_ref();
                let made = match current.filter(|m| m.beat == index) {
                    None => Some(turn.amount),
                    Some(m) => {
                        let quarters = ((m.face_deg(t) - m.from_deg) / 90.0).round() as i32;
                        Amount::from_quarters(quarters.rem_euclid(4) as u8)
                    }
                };
                if let Some(amount) = made {
                    state = state.turned(Turn { face: turn.face, amount });
                }
            }
        }
        state
    }
}
