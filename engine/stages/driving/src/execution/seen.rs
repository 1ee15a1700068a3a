//! What can be told of the rig at a moment.

use dryturn_handoff::Energy;
use dryturn_units::degrees;

use super::{AxisNow, Execution};
use crate::seats::{AxisSeen, ControllerSees, HostSees};

impl Execution<'_> {
    pub(crate) fn now_s(&self) -> f64 {
        self.tick as f64 * self.machine.tick_s
    }

    pub(super) fn kinetic_and_stored(&self) -> (f64, f64) {
        let capacitor = self.machine.source.stored_j(&self.bus);
        let axes = self.axes.iter().zip(&self.built.axes);
        axes.fold((0.0, capacitor), |sum, (axis, built)| {
            let (kinetic, stored) = axis.moving.kinetic_and_stored(&built.plant);
            (sum.0 + kinetic, sum.1 + stored)
        })
    }

    /// The energy so far, with what moves and what is stored now.
    pub(crate) fn energy(&self) -> Energy {
        let (kinetic, stored) = self.kinetic_and_stored();
        Energy {
            kinetic_j: kinetic - self.before_j.0,
            stored_j: stored - self.before_j.1,
            ..self.energy
        }
    }

    /// Whether all that moves still has an angle, a speed and a voltage.
    pub(crate) fn is_finite(&self) -> bool {
        let moving = |axis: &AxisNow| {
            let moving = &axis.moving;
            moving.motor_rad + moving.layer_rad + moving.motor_rad_s + moving.layer_rad_s
        };
        (self.axes.iter().map(moving).sum::<f64>() + self.bus.voltage_v).is_finite()
    }

    /// Whether every layer and motor is at rest, nearly.
    pub(crate) fn quiet(&self) -> bool {
        self.axes
            .iter()
            .all(|axis| axis.moving.motor_rad_s.abs() < 0.5 && axis.moving.layer_rad_s.abs() < 0.5)
    }

    pub(crate) fn hottest_c(&self) -> f64 {
        let hottest = self.axes.iter().map(|axis| axis.winding_k).fold(0.0, f64::max);
        self.machine.source.ambient_c + hottest
    }

    /// What the encoders read, degrees since homing.
    pub(crate) fn encoder_deg(&self) -> [f64; 6] {
        core::array::from_fn(|face| degrees(self.axes[face].servo.reads_rad))
    }

    /// What comes back over the link.
    pub(crate) fn host_sees(&self) -> HostSees {
        let axes = &self.axes;
        HostSees {
            time_s: self.now_s(),
            encoder_deg: self.encoder_deg(),
            setpoint_deg: core::array::from_fn(|i| degrees(axes[i].servo.setpoint_rad)),
            moving: core::array::from_fn(|i| axes[i].servo.moving.is_some()),
        }
    }

    /// What encoders and sensors show at the beginning of a tick.
    pub(crate) fn controller_sees(&self) -> ControllerSees {
        let axis = |face: usize| {
            let axis = &self.axes[face];
            AxisSeen {
                encoder_counts: self.built.axes[face].encoder.steps(axis.moving.motor_rad) as i64,
                move_number: axis.order as u64,
                current_a: axis.moving.current_a,
                target_deg: degrees(axis.servo.target_rad),
            }
        };
        ControllerSees {
            tick: self.tick as u64,
            time_s: self.now_s(),
            bus_v: self.bus.voltage_v,
            axes: core::array::from_fn(axis),
        }
    }
}
