//! An axis that somebody in the controller's seat moves: by a current, or by set-points for the
//! built-in loops.

use super::asked::Asked;
use super::servo::Wanted;
use super::{Gains, Servo, Setpoints};
use crate::seats::Ask;

impl Servo {
    /// Whether this is something else than what was asked of it last.
    pub(crate) fn is_new(&self, ask: &Ask) -> bool {
        self.asked.as_ref().is_none_or(|asked| !asked.is(ask))
    }

    /// One tick in which somebody else says what it shall do; gives the current to ask for.
    pub(crate) fn obey(
        &mut self,
        gains: &Gains,
        reads_rad: f64,
        moves: &[Setpoints],
        ask: Ask,
    ) -> f64 {
        self.read(reads_rad);
        let asked = self.asked.get_or_insert_with(|| Box::new(Asked::first(ask)));
        asked.note(ask);
        match ask {
            Ask::Current { asked_a } => {
                self.goes_on(gains, moves);
                self.settle(gains);
                self.limited(gains, asked_a)
            }
            Ask::SetPoint { angle_rad, speed_rad_s, feed_forward_n_m } => {
                // As for planned moves: what it has gained in half of the window.
                let gained_rad_s = 0.5 * asked.gained_rad_s(gains.window);
                self.setpoint_rad = angle_rad;
                let off_rad = (self.target_rad - angle_rad).abs();
                if speed_rad_s == 0.0 && off_rad <= gains.settle_rad {
                    self.moving = None;
                }
                self.settle(gains);
                let limit = gains.torque_n_m;
                let feed_forward_n_m = feed_forward_n_m.clamp(-limit, limit);
                self.cascade(gains, Wanted { speed_rad_s, gained_rad_s, feed_forward_n_m })
            }
        }
    }

    /// A current within the limits, as a torque too.
    fn limited(&mut self, gains: &Gains, asked_a: f64) -> f64 {
        let limit = gains.holds_with(self.rests);
        let limit_a = limit / gains.constant_v_s;
        if asked_a.abs() < limit_a {
            self.torque_n_m = asked_a * gains.constant_v_s;
            return asked_a;
        }
        self.torque_n_m = limit.copysign(asked_a);
        limit_a.copysign(asked_a)
    }
}
