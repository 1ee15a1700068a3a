//! The run: beats one after another on one clock with a fixed step.

use dryturn_cube::{CubeState, Face, Turn};
use dryturn_handoff::{BeatRun, End, Jam, Plan, Run, Trace};
use dryturn_scene::Scene;
use dryturn_units::maths;
use dryturn_units::noise::Seed;

use crate::axis::{Axis, Motor};
use crate::interlock::Interlock;
use crate::motion::{Motion, rest_to_rest};

/// Step of the clock, s.
const STEP_S: f64 = 5e-5;
/// Every how many steps a sample of the angles is kept: 0.5 ms.
const STEPS_PER_SAMPLE: usize = 10;
/// When no face has moved for so long, the run is over, s: many settling times.
const TAIL_S: f64 = 0.01;
/// No turn of any drive that a scene allows takes longer, s.
const LONGEST_BEAT_S: f64 = 20.0;

/// One turn on its way.
struct Move {
    face: Face,
    beat: usize,
    start_s: f64,
    duration_s: f64,
    motion: Motion,
    /// Signed angle of the turn, degrees.
    turn_deg: f64,
    /// Where the axis stood before, by its stops, degrees.
    from_deg: f64,
    /// How far off it is when its profile ends, before settling, degrees.
    stop_error_deg: f64,
    settle_s: f64,
}

impl Move {
    fn target_deg(&self) -> f64 {
        self.from_deg + self.turn_deg
    }

    /// Angle by the encoder at time `t`, degrees.
    fn encoder_deg(&self, t: f64) -> f64 {
        let share = ((t - self.start_s) / self.duration_s).clamp(0.0, 1.0);
        let late_s = t - self.start_s - self.duration_s;
        // The error grows over the profile and dies away after it.
        let error = if late_s <= 0.0 {
            self.stop_error_deg * share * share
        } else {
            self.stop_error_deg * maths::exp(-late_s / self.settle_s)
        };
        self.from_deg + self.turn_deg * self.motion.progress(share) + error
    }

    fn profile_end_s(&self) -> f64 {
        self.start_s + self.duration_s
    }
}

/// An axis: where it stood, what it is doing, how its encoder sits.
#[derive(Default)]
struct AxisNow {
    stop_deg: f64,
    current: Option<Move>,
    /// Face angle less encoder angle, degrees; drawn anew with every turn.
    encoder_offset_deg: f64,
}

impl AxisNow {
    fn encoder_deg(&self, t: f64) -> f64 {
        self.current.as_ref().map_or(self.stop_deg, |m| m.encoder_deg(t))
    }

    fn face_deg(&self, t: f64) -> f64 {
        self.encoder_deg(t) + self.encoder_offset_deg
    }
}

/// How far an angle is from the nearest stop, degrees, signed.
fn off_stop(angle_deg: f64) -> f64 {
    angle_deg - 90.0 * (angle_deg / 90.0).round()
}

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
    let file = scene.file();
    let simulation = Simulation {
        scene,
        axis: Axis::of(&file.drive),
        interlock: Interlock::of(&file.cube, &file.drive),
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
        let mut jam = None;
        for (index, beat) in plan.beats.iter().enumerate() {
            self.start_beat(index, &beat.turns);
            // On to the decision for the next beat, or to the jam.
            jam = self.advance_until(|sim| sim.released(index));
            if jam.is_some() {
                break;
            }
        }
        let total_s = jam.as_ref().map_or_else(|| self.last_profile_end_s(), |j: &Jam| j.time_s);
        if jam.is_none() {
            let end = total_s + TAIL_S;
            jam = self.advance_until(|sim| sim.now_s() >= end);
        }
        let final_state = self.final_state(start, plan);
        let end = jam.map_or(End::Completed, End::Jammed);
        Run { beats: self.beats, trace: self.trace, total_s, end, final_state }
    }

    /// Draws the errors of one beat and sets its faces on their way.
    fn start_beat(&mut self, index: usize, turns: &[Turn]) {
        let file = self.scene.file();
        let (drive, tolerances) = (&file.drive, &file.tolerances);
        for turn in turns {
            let stream = index as u64 * 6 + turn.face.index() as u64;
            let mut noise = self.seed.stream("drive", self.trial, stream);
            let wait_ms = drive.command_latency_ms
                + drive.loop_period_ms * noise.uniform()
                + if index > 0 { drive.overhead_ms } else { 0.0 };
            let angle = turn.amount.angle_deg();
            let radians = dryturn_units::radians(angle.abs());
            let motion = rest_to_rest(&self.axis.planned, radians, self.axis.speed_limit);
            let spread = 1.0 + tolerances.friction_spread_sigma_share * noise.gaussian();
            let friction = drive.friction_torque_n_m * spread.max(0.0);
            let duration_s = self.duration_with(friction, radians, motion.duration);
            let stop_error_deg = tolerances.stop_error_sigma_deg * noise.gaussian();
            let offset = tolerances.encoder_error_deg * noise.between(-1.0, 1.0);
            let start_s = self.now_s() + wait_ms * 1e-3;
            let axis = &mut self.axes[turn.face.index()];
            if let Some(done) = axis.current.take() {
                axis.stop_deg = done.target_deg();
            }
            axis.encoder_offset_deg = offset;
            axis.current = Some(Move {
                face: turn.face,
                beat: index,
                start_s,
                duration_s,
                motion,
                turn_deg: angle,
                from_deg: axis.stop_deg,
                stop_error_deg,
                settle_s: drive.settle_time_constant_ms * 1e-3,
            });
        }
        let moves = || self.axes.iter().filter_map(|a| a.current.as_ref()).filter(|m| m.beat == index);
        let start_s = moves().map(|m| m.start_s).fold(f64::INFINITY, f64::min);
        let stop_s = moves().map(Move::profile_end_s).fold(0.0, f64::max);
        self.beats.push(BeatRun { beat: index, start_s, stop_s, worst_offset_deg: 0.0 });
    }

    /// A turn takes as planned while the whole torque limit can make up for its
    /// friction, else as long as that limit needs.
    fn duration_with(&self, friction: f64, angle: f64, planned_s: f64) -> f64 {
        // Friction beyond the torque limit: crawl at a twentieth of the surplus.
        let most = 0.95 * self.axis.torque_limit();
        let motor = Motor { friction: friction.min(most), ..self.axis.limit };
        planned_s.max(rest_to_rest(&motor, angle, self.axis.speed_limit).duration)
    }

    /// Whether every face of the beat is, by its encoder, within the release
    /// angle for good: its profile has come so far and its error is so small.
    fn released(&self, beat: usize) -> bool {
        let release = self.scene.file().drive.release_angle_deg;
        let t = self.now_s();
        self.axes.iter().filter_map(|a| a.current.as_ref()).filter(|m| m.beat == beat).all(|m| {
            let off = (m.encoder_deg(t) - m.target_deg()).abs();
            t > m.start_s && off <= release.max(1e-3)
        })
    }

    fn last_profile_end_s(&self) -> f64 {
        self.beats.last().map_or(0.0, |beat| beat.stop_s)
    }

    /// Steps the clock until `done`, or until a jam.
    fn advance_until(&mut self, done: impl Fn(&Self) -> bool) -> Option<Jam> {
        let limit = self.step + (LONGEST_BEAT_S / STEP_S) as usize;
        while !done(self) && self.step < limit {
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

    /// Looks for two neighbouring faces that are both off their stops: one of
    /// them engaged, the other further off than the interlock allows.
    fn find_jam(&mut self, t: f64, angles: &[f64; 6]) -> Option<Jam> {
        let off = angles.map(|angle| off_stop(angle).abs());
        for moving in Face::ALL {
            let Some(engaged) = &self.axes[moving.index()].current else { continue };
            if off[moving.index()] < self.interlock.engage_deg {
                continue;
            }
            let beat = engaged.beat;
            for other in Face::ALL.into_iter().filter(|other| !other.same_axis(moving)) {
                let offset = off[other.index()];
                let other_beat = self.axes[other.index()].current.as_ref().map(|m| m.beat);
                // The later beat is the one that is blocked.
                if other_beat.is_some_and(|b| b >= beat) {
                    continue;
                }
                let record = &mut self.beats[beat].worst_offset_deg;
                *record = record.max(offset);
                if offset > self.interlock.jam_deg {
                    return Some(Jam {
                        time_s: t,
                        beat,
                        late_face: other,
                        late_angle_deg: offset,
                        allowed_deg: self.interlock.jam_deg,
                        blocked_face: moving,
                        blocked_angle_deg: off[moving.index()],
                        blame: self.blame(other, t),
                    });
                }
            }
        }
        None
    }

    fn blame(&self, late: Face, t: f64) -> String {
        let axis = &self.axes[late.index()];
        let drive = &self.scene.file().drive;
        let Some(m) = &axis.current else {
            return format!("{late} stood off its stop from the start");
        };
        let by_encoder = (m.encoder_deg(t) - m.target_deg()).abs();
        if t < m.profile_end_s() {
            format!(
                "the release angle of {}° let the next beat start before {late} had stopped",
                drive.release_angle_deg
            )
        } else if axis.encoder_offset_deg.abs() > by_encoder {
            format!(
                "the encoder of {late} sits {:.2}° off its face, which no settling cures",
                axis.encoder_offset_deg
            )
        } else {
            format!(
                "{late} had ended its profile {:.2}° off its stop and not yet settled",
                m.stop_error_deg
            )
        }
    }

    /// Each face counts at the stop that it is nearest to.
    fn final_state(&self, start: &CubeState, plan: &Plan) -> CubeState {
        let t = self.now_s();
        let mut state = *start;
        for (index, beat) in plan.beats.iter().enumerate().take(self.beats.len()) {
            for &turn in &beat.turns {
                let axis = &self.axes[turn.face.index()];
                match axis.current.as_ref().filter(|m| m.beat == index) {
                    None => state = state.turned(turn),
                    Some(m) => {
                        let quarters = ((axis.face_deg(t) - m.from_deg) / 90.0).round() as i32;
                        let amount =
                            dryturn_cube::Amount::from_quarters(quarters.rem_euclid(4) as u8);
                        if let Some(amount) = amount {
                            debug_assert_eq!(m.face, turn.face);
                            state = state.turned(Turn { face: turn.face, amount });
                        }
                    }
                }
            }
        }
        state
    }
}
