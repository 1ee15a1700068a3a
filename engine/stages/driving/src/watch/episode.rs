//! Two faces that have met: how it began, what it strained, who is to blame.

use dryturn_cube::Face;
use dryturn_handoff::{Blame, Jam, JamVerdict, LateReason, Meeting};
use dryturn_units::degrees;

use crate::contact::Torques;
use crate::execution::{AxisNow, Execution};

/// A turning face is brought to a stand below this speed, rad/s, while it is this far
/// behind its set-point, rad.
const STAND_RAD_S: f64 = 1.0;
const BEHIND_RAD: f64 = 0.035;

/// Two faces that have met.
#[derive(Clone, Copy, Debug)]
pub(super) struct Episode {
    pub(super) late: usize,
    pub(super) turning: usize,
    beat: usize,
    time_s: f64,
    late_rad: f64,
    turned_rad: f64,
    /// Largest torques in the shafts of the turning and of the late face.
    peak_n_m: (f64, f64),
    /// Largest torque against the turning face, N·m, and its sum over time, N·m·s.
    pub(super) load_n_m: f64,
    pub(super) load_n_m_s: f64,
    /// Which command of the turning face it falls into.
    pub(super) order: usize,
    parts: Parts,
    /// Since when the turning face has stood.
    pub(super) stood_s: Option<f64>,
    pub(super) stopped: bool,
}

impl Episode {
    /// Of a late and a turning face that meet now.
    pub(super) fn begun(execution: &Execution<'_>, late: usize, turning: usize) -> Self {
        let (one, other) = (&execution.axes[late], &execution.axes[turning]);
        Self {
            late,
            turning,
            beat: other.beat,
            time_s: execution.now_s(),
            late_rad: one.off_stop_rad(),
            turned_rad: other.turned_rad(),
            peak_n_m: (0.0, 0.0),
            load_n_m: 0.0,
            load_n_m_s: 0.0,
            order: other.order,
            parts: Parts::of(one),
            stood_s: None,
            stopped: false,
        }
    }

    /// One tick more of it.
    pub(super) fn go_on(&mut self, execution: &Execution<'_>) {
        let axis = &execution.axes[self.turning];
        let load = execution.load_n_m[self.late][self.turning];
        self.load_n_m = self.load_n_m.max(load);
        self.load_n_m_s += load * execution.machine.tick_s;
        self.strain(&execution.axes);
        let forwards = axis.moving.layer_rad_s * self.turned_rad.signum();
        let behind = axis.servo.following_error_rad() > BEHIND_RAD;
        if forwards < STAND_RAD_S && behind {
            self.stopped = true;
            self.stood_s.get_or_insert(execution.now_s());
        } else if forwards > 10.0 * STAND_RAD_S {
            self.stood_s = None;
        }
    }

    pub(super) fn strain(&mut self, axes: &[AxisNow; 6]) {
        let (turning, late) = &mut self.peak_n_m;
        *turning = turning.max(axes[self.turning].tick_torque_n_m);
        *late = late.max(axes[self.late].tick_torque_n_m);
    }

    /// The jam that it was.
    pub(super) fn jam(
        &self,
        execution: &Execution<'_>,
        verdict: JamVerdict,
        noticed_s: Option<f64>,
    ) -> Jam {
        let (late, turning) = (&execution.axes[self.late], &execution.axes[self.turning]);
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
        let turning_shaft = strained(self.turning, self.peak_n_m.0);
        let late_shaft = strained(self.late, self.peak_n_m.1);
        let (strained_face, peak_torque_n_m, safety_factor_ratio) =
            if late_shaft.2 < turning_shaft.2 { late_shaft } else { turning_shaft };
        Jam {
            time_s: self.time_s,
            beat: self.beat,
            met: Meeting {
                late_face: Face::from_index(self.late),
                late_angle_deg: degrees(self.late_rad),
                allowed_deg: execution.built.contact.interlock.jam_deg(&torques),
                blocked_face: Face::from_index(self.turning),
                blocked_angle_deg: degrees(self.turned_rad),
            },
            strained_face,
            peak_torque_n_m,
            safety_factor_ratio,
            verdict,
            noticed_s,
            blame: self.parts.worst(),
        }
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
