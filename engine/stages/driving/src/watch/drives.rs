//! The drives: they see the bus, following errors and currents, and cut the torque.

use dryturn_cube::Face;
use dryturn_handoff::Cause;
use dryturn_units::radians;

use crate::execution::Execution;

/// A drive takes an axis that is slower than this, rad/s, for standing.
const STALLED_RAD_S: f64 = 2.0;

/// For how many ticks each axis has been far behind, and stalled.
#[derive(Default)]
pub(super) struct Drives {
    following_ticks: [u32; 6],
    stalled_ticks: [u32; 6],
}

impl Drives {
    /// What the drives find, from what they can see.
    pub(super) fn tripped(&mut self, execution: &Execution<'_>) -> Option<Cause> {
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
}
