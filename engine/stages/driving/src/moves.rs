//! One turn on its way, and the axis that makes it.

use dryturn_cube::Turn;
use dryturn_units::maths;

use crate::motion::Motion;

/// One turn on its way, with the errors that were drawn for it.
pub(crate) struct Move {
    pub(crate) turn: Turn,
    pub(crate) beat: usize,
    pub(crate) start_s: f64,
    pub(crate) duration_s: f64,
    pub(crate) motion: Motion,
    /// Stop from which it starts, degrees.
    pub(crate) from_deg: f64,
    /// How far off it is when its profile ends, before settling, degrees.
    pub(crate) stop_error_deg: f64,
    pub(crate) settle_s: f64,
    /// Face angle less encoder angle before and after the turn, degrees.
    pub(crate) offsets_deg: (f64, f64),
    /// Coulomb friction of the layer during this turn.
    pub(crate) friction_n_m: f64,
}

impl Move {
    pub(crate) fn target_deg(&self) -> f64 {
        self.from_deg + self.turn.amount.angle_deg()
    }

    pub(crate) fn profile_end_s(&self) -> f64 {
        self.start_s + self.duration_s
    }

    /// Share of the profile's time that has passed, 0 to 1.
    fn share(&self, t_s: f64) -> f64 {
        ((t_s - self.start_s) / self.duration_s).clamp(0.0, 1.0)
    }

    /// Where the profile wants the axis, degrees.
    pub(crate) fn planned_deg(&self, t_s: f64) -> f64 {
        self.from_deg + self.turn.amount.angle_deg() * self.motion.progress(self.share(t_s))
    }

    /// Angle by the encoder, degrees. The error grows over the profile and dies
    /// away after it.
    pub(crate) fn encoder_deg(&self, t_s: f64) -> f64 {
        let late_s = t_s - self.profile_end_s();
        let error = if late_s <= 0.0 {
            let share = self.share(t_s);
            self.stop_error_deg * share * share
        } else {
            self.stop_error_deg * maths::exp(-late_s / self.settle_s)
        };
        self.planned_deg(t_s) + error
    }

    /// Angle of the face itself, degrees.
    pub(crate) fn face_deg(&self, t_s: f64) -> f64 {
        let (before, after) = self.offsets_deg;
        self.encoder_deg(t_s) + before + (after - before) * self.share(t_s)
    }

    /// Whether the profile and the encoder both have the axis within
    /// `release_deg` of its stop. An axis that is about to overshoot passes here
    /// too: nobody knows yet.
    pub(crate) fn within(&self, release_deg: f64, t_s: f64) -> bool {
        let off = |angle: f64| (angle - self.target_deg()).abs();
        t_s > self.start_s
            && off(self.planned_deg(t_s)) <= release_deg
            && off(self.encoder_deg(t_s)) <= release_deg
    }

    /// Whether the profile has ended and the error is spent.
    pub(crate) fn settled(&self, t_s: f64) -> bool {
        t_s >= self.profile_end_s() && (self.encoder_deg(t_s) - self.target_deg()).abs() < 0.01
    }

    pub(crate) fn turning(&self, t_s: f64) -> bool {
        t_s >= self.start_s && t_s < self.profile_end_s()
    }
}

/// An axis: its last or present turn.
#[derive(Default)]
pub(crate) struct AxisNow {
    pub(crate) current: Option<Move>,
}

impl AxisNow {
    pub(crate) fn face_deg(&self, t_s: f64) -> f64 {
        self.current.as_ref().map_or(0.0, |m| m.face_deg(t_s))
    }
}

/// How far an angle is from the nearest stop, degrees, signed.
pub(crate) fn off_stop(angle_deg: f64) -> f64 {
    angle_deg - 90.0 * (angle_deg / 90.0).round()
}
