//! A tick of the controllers: each axis reads its encoder and asks its motor for a current.

use core::f64::consts::FRAC_PI_2;

use super::Execution;
use crate::seats::Asks;

/// An axis that has stood still with nothing changing for so many ticks is left alone
/// until something touches it.
const TICKS_TO_PARK: u32 = 12;

impl Execution<'_> {
    /// By what somebody in the controllers' place asks for, else by the built-in ones.
    pub(super) fn control(&mut self, asks: Option<&Asks>) {
        let machine = self.machine;
        self.load_n_m = [[0.0; 6]; 6];
        let past = self.built.contact.interlock.past_rad();
        for (face, (axis, built)) in self.axes.iter_mut().zip(&self.built.axes).enumerate() {
            axis.tick_torque_n_m = 0.0;
            let ask = asks.map(|asks| asks[face]);
            if !axis.awake {
                // It is left alone for as long as nothing else is asked of it.
                if ask.is_none_or(|ask| !axis.servo.is_new(&ask)) {
                    continue;
                }
                axis.awake = true;
                axis.still_ticks = 0;
            }
            axis.nearest = axis.moving.nearest_stop();
            if axis.off_stop_rad().abs() < past || axis.turned_rad().abs() >= FRAC_PI_2 {
                axis.left = axis.nearest;
            }
            let swing = built.swing_n_m(axis.moving.motor_rad);
            axis.moving.friction_n_m = (axis.turn_friction_n_m + swing).max(0.0);
            let before = (axis.servo.torque_n_m, axis.servo.reads_rad);
            let reads = built.encoder.reads(axis.moving.motor_rad);
            axis.moving.asked_a = if axis.off {
                axis.servo.reads_rad = reads;
                axis.servo.torque_n_m = 0.0;
                0.0
            } else {
                match ask {
                    None => axis.servo.tick(&machine.gains, reads, self.moves),
                    Some(ask) => axis.servo.obey(&machine.gains, reads, self.moves, ask),
                }
            };
            let same = before == (axis.servo.torque_n_m, axis.servo.reads_rad);
            // An axis that wants to move is never left alone: its drive watches it.
            let wants = !(axis.servo.settled || axis.off);
            let still = same && !wants && axis.servo.moving.is_none() && axis.moving.at_rest();
            axis.still_ticks = if still { axis.still_ticks + 1 } else { 0 };
            if machine.parks && axis.still_ticks >= TICKS_TO_PARK {
                axis.awake = false;
                // Where the current loop is within a few millionths by now.
                axis.moving.current_a = axis.moving.asked_a;
            }
        }
    }
}
