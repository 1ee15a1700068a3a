//! Who watches a run: the drives, which see following errors and currents and cut the
//! torque; and the judge, who sees pieces meet and shafts break.

use dryturn_cube::Face;
use dryturn_handoff::{BeatRun, Blame, Cause, Jam, JamVerdict, LateReason, Meeting};
use dryturn_units::{degrees, radians};

use crate::axis_now::AxisNow;
use crate::contact::Engaged;
use crate::execution::{BESIDE, Execution};
use crate::interlock::Torques;

/// A turning face is brought to a stand below this speed, rad/s, while it is this far
/// behind its set-point, rad.
const STAND_RAD_S: f64 = 1.0;
const BEHIND_RAD: f64 = 0.035;
/// A drive takes an axis that is slower than this, rad/s, for standing.
const STALLED_RAD_S: f64 = 2.0;
/// Where no drive notices, the judge calls it a jam after this, s.
const PATIENCE_S: f64 = 0.06;
/// From where on, and up to where, degrees, a turning face engages with its neighbours.
const ENGAGING_DEG: (f64, f64) = (0.3, 5.0);

/// Less than this against a turning face is the rubbing of every day, N·m.
const RUBBING_N_M: f64 = 0.03;

/// Less than this is not to blame for a jam, N·m.
const BLAMED_N_M: f64 = 0.05;

/// Two faces that have met.
#[derive(Clone, Copy, Debug)]
struct Episode {
    late: usize,
    turning: usize,
    beat: usize,
    time_s: f64,
    late_rad: f64,
    turned_rad: f64,
    /// Largest torques in the shafts of the turning and of the late face.
    peak_n_m: (f64, f64),
    /// Largest torque against the turning face, N·m, and its sum over time, N·m·s.
    load_n_m: f64,
    load_n_m_s: f64,
    /// Which command of the turning face it falls into.
    order: usize,
    parts: Parts,
    /// Since when the turning face has stood.
    stood_s: Option<f64>,
    stopped: bool,
}

impl Episode {
    fn strain(&mut self, axes: &[AxisNow; 6]) {
        let (turning, late) = &mut self.peak_n_m;
        *turning = turning.max(axes[self.turning].tick_torque_n_m);
        *late = late.max(axes[self.late].tick_torque_n_m);
    }
}

/// Why the run ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Found {
    /// A drive cuts the torque.
    Tripped(Cause),
    /// A shaft has broken.
    Broken(Face),
    /// The judge has waited long enough for this face.
    Stuck(Face),
}

/// What is watched.
pub(crate) struct Watch {
    episodes: Vec<Episode>,
    /// Those that are over, of turns that are not.
    over: Vec<Episode>,
    pub(crate) pushed: Vec<Jam>,
    following_ticks: [u32; 6],
    stalled_ticks: [u32; 6],
}

impl Watch {
    pub(crate) fn new() -> Self {
        Self {
            episodes: Vec::new(),
            over: Vec::new(),
            pushed: Vec::new(),
            following_ticks: [0; 6],
            stalled_ticks: [0; 6],
        }
    }

    /// After a tick: notes who meets whom; finds what ends the run.
    pub(crate) fn tick(
        &mut self,
        execution: &Execution<'_>,
        beats: &mut [BeatRun],
    ) -> Option<Found> {
        note_offsets(execution, beats);
        self.meetings(execution);
        for (face, axis) in execution.axes.iter().enumerate() {
            if axis.tick_torque_n_m > execution.built.axes[face].ultimate_n_m {
                return Some(Found::Broken(Face::from_index(face)));
            }
        }
        let now_s = execution.now_s();
        if let Some(cause) = self.tripped(execution) {
            return Some(Found::Tripped(cause));
        }
        let stuck = |episode: &Episode| episode.stood_s.is_some_and(|s| now_s - s > PATIENCE_S);
        let held_up = self.episodes.iter().find(|episode| stuck(episode))?;
        Some(Found::Stuck(Face::from_index(held_up.turning)))
    }

    fn meetings(&mut self, execution: &Execution<'_>) {
        let now_s = execution.now_s();
        for (turning, beside) in BESIDE.into_iter().enumerate() {
            for late in beside {
                let engaged = execution.engaged[late][turning] != Engaged::Apart
                    && execution.load_n_m[late][turning] > RUBBING_N_M;
                let place = self
                    .episodes
                    .iter()
                    .position(|episode| (episode.late, episode.turning) == (late, turning));
                match (engaged, place) {
                    (true, None) => self.episodes.push(Episode {
                        late,
                        turning,
                        beat: execution.axes[turning].beat,
                        time_s: now_s,
                        late_rad: execution.axes[late].off_stop_rad(),
                        turned_rad: execution.axes[turning].turned_rad(),
                        peak_n_m: (0.0, 0.0),
                        load_n_m: 0.0,
                        load_n_m_s: 0.0,
                        order: execution.axes[turning].order,
                        parts: Parts::of(&execution.axes[late]),
                        stood_s: None,
                        stopped: false,
                    }),
                    (false, Some(place)) => {
                        let episode = self.episodes.swap_remove(place);
                        if episode.stopped {
                            let jam = jam_of(&episode, execution, JamVerdict::PushedThrough, None);
                            self.pushed.push(jam);
                        }
                        self.over.push(episode);
                    }
                    _ => {}
                }
            }
        }
        let axes = &execution.axes;
        self.over.retain(|old| {
            let axis = &axes[old.turning];
            axis.order == old.order && !axis.servo.settled
        });
        for episode in &mut self.episodes {
            let axis = &axes[episode.turning];
            let load = execution.load_n_m[episode.late][episode.turning];
            episode.load_n_m = episode.load_n_m.max(load);
            episode.load_n_m_s += load * execution.machine.tick_s;
            episode.strain(axes);
            let forwards = axis.moving.layer_rad_s * episode.turned_rad.signum();
            let behind = axis.servo.following_error_rad() > BEHIND_RAD;
            if forwards < STAND_RAD_S && behind {
                episode.stopped = true;
                episode.stood_s.get_or_insert(now_s);
            } else if forwards > 10.0 * STAND_RAD_S {
                episode.stood_s = None;
            }
        }
    }

    /// What the drives find, from what they can see.
    fn tripped(&mut self, execution: &Execution<'_>) -> Option<Cause> {
        let machine = execution.machine;
        let source = &machine.source;
        if execution.bus.voltage_v > source.over_v {
            return Some(Cause::OverVoltage);
        }
        if execution.bus.voltage_v < source.under_v {
            return Some(Cause::UnderVoltage);
        }
        if execution.bus.resistor_c(source) > source.limit_c {
            return Some(Cause::ResistorHot);
        }
        let detection = &machine.file.detection;
        if !detection.enabled {
            return None;
        }
        let ticks = |ms: f64| (ms * 1e-3 / machine.tick_s).ceil() as u32;
        let (follow, stall) = (ticks(detection.following_time_ms), ticks(detection.stall_time_ms));
        let error_rad = radians(detection.following_error_deg);
        let limit = detection.stall_current_share * machine.gains.torque_n_m;
        for (face, axis) in execution.axes.iter().enumerate() {
            let count = |held: bool, ticks: &mut u32| {
                *ticks = if held { *ticks + 1 } else { 0 };
                *ticks
            };
            let servo = &axis.servo;
            let far = servo.following_error_rad() > error_rad;
            if count(far, &mut self.following_ticks[face]) > follow {
                return Some(Cause::FollowingError(Face::from_index(face)));
            }
            let stalled = !servo.settled
                && servo.torque_n_m.abs() >= limit
                && servo.speed_rad_s(&machine.gains).abs() < STALLED_RAD_S;
            if count(stalled, &mut self.stalled_ticks[face]) > stall {
                return Some(Cause::Stalled(Face::from_index(face)));
            }
        }
        None
    }

    /// While the rig comes to rest: the torque goes on rising or falling.
    pub(crate) fn coasting(&mut self, execution: &Execution<'_>) -> Option<Found> {
        for episode in &mut self.episodes {
            episode.strain(&execution.axes);
        }
        let mut axes = execution.axes.iter().zip(&execution.built.axes);
        axes.position(|(axis, built)| axis.tick_torque_n_m > built.ultimate_n_m)
            .map(|face| Found::Broken(Face::from_index(face)))
    }

    /// Whether a neighbour holds somebody up now.
    pub(crate) fn somebody_stands(&self) -> bool {
        self.episodes.iter().any(|episode| episode.stood_s.is_some())
    }

    /// The jam that is to blame for the end of the run, if any: where a shaft broke, one
    /// that strained it.
    pub(crate) fn jam(
        &self,
        execution: &Execution<'_>,
        (verdict, broken): (JamVerdict, Option<Face>),
        noticed_s: Option<f64>,
    ) -> Option<Jam> {
        let worse = |a: &&Episode, b: &&Episode| a.load_n_m_s.total_cmp(&b.load_n_m_s);
        let met = self.episodes.iter().chain(&self.over);
        let strained = |episode: &&Episode| {
            broken.is_none_or(|face| [episode.turning, episode.late].contains(&face.index()))
        };
        let blamed = |episode: &&Episode| episode.load_n_m > BLAMED_N_M;
        let worst = met.filter(blamed).filter(strained).max_by(worse)?;
        Some(jam_of(worst, execution, verdict, noticed_s))
    }
}

/// How far neighbours are off while the newest beat's faces engage.
fn note_offsets(execution: &Execution<'_>, beats: &mut [BeatRun]) {
    let Some(beat) = beats.last_mut() else { return };
    for turn in &beat.turns {
        let face = turn.turn.face.index();
        let axis = &execution.axes[face];
        let turned = degrees(axis.turned_rad().abs());
        if axis.servo.settled || turned < ENGAGING_DEG.0 || turned > ENGAGING_DEG.1 {
            continue;
        }
        for late in BESIDE[face] {
            let off = degrees(execution.axes[late].off_stop_rad().abs());
            beat.worst_offset_deg = beat.worst_offset_deg.max(off);
        }
    }
}

fn jam_of(
    episode: &Episode,
    execution: &Execution<'_>,
    verdict: JamVerdict,
    noticed_s: Option<f64>,
) -> Jam {
    let (late, turning) = (&execution.axes[episode.late], &execution.axes[episode.turning]);
    let gains = &execution.machine.gains;
    let torques = Torques {
        late_hold_n_m: gains.holds_with(late.servo.rests),
        late_friction_n_m: late.turn_friction_n_m,
        turning_friction_n_m: turning.turn_friction_n_m,
        turning_limit_n_m: gains.torque_n_m,
    };
    let strained = |face: usize, peak: f64| {
        let factor = execution.built.axes[face].ultimate_n_m / peak.max(1e-9);
        (Face::from_index(face), peak, factor)
    };
    let turning_shaft = strained(episode.turning, episode.peak_n_m.0);
    let late_shaft = strained(episode.late, episode.peak_n_m.1);
    let (strained_face, peak_torque_n_m, safety_factor_ratio) =
        if late_shaft.2 < turning_shaft.2 { late_shaft } else { turning_shaft };
    Jam {
        time_s: episode.time_s,
        beat: episode.beat,
        met: Meeting {
            late_face: Face::from_index(episode.late),
            late_angle_deg: degrees(episode.late_rad),
            allowed_deg: execution.built.contact.interlock.jam_deg(&torques),
            blocked_face: Face::from_index(episode.turning),
            blocked_angle_deg: degrees(episode.turned_rad),
        },
        strained_face,
        peak_torque_n_m,
        safety_factor_ratio,
        verdict,
        noticed_s,
        blame: episode.parts.worst(),
    }
}

/// What has to do with a face being off its stop, rad, when it is met.
#[derive(Clone, Copy, Debug)]
struct Parts {
    in_its_turn: bool,
    by_servo: f64,
    by_twist: f64,
    by_encoder: f64,
}

impl Parts {
    fn of(late: &AxisNow) -> Self {
        let by_servo = late.servo.reads_rad - late.servo.target_rad;
        let by_twist = late.moving.layer_rad - late.moving.motor_rad;
        Self {
            in_its_turn: late.servo.moving.is_some(),
            by_servo,
            by_twist,
            by_encoder: late.off_stop_rad() - by_servo - by_twist,
        }
    }

    fn worst(&self) -> Blame {
        let off = self.by_servo + self.by_twist + self.by_encoder;
        let mut worst = (self.by_servo, LateReason::HeldOff);
        for part in
            [(self.by_twist, LateReason::WoundUp), (self.by_encoder, LateReason::EncoderOff)]
        {
            if part.0 * off > worst.0 * off {
                worst = part;
            }
        }
        if self.in_its_turn {
            worst = (off, LateReason::ReleasedEarly);
        }
        Blame { reason: worst.1, off_deg: degrees(worst.0.abs()) }
    }
}
