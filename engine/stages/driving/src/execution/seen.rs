//! What can be told of the rig at a moment.

use dryturn_handoff::Energy;

use super::{AxisNow, Execution};

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
}
