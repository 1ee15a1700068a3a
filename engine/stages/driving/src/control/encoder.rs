//! An encoder at a motor's shaft.

use dryturn_units::maths;

/// An encoder: steps, non-linearity, and where its zero is.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Encoder {
    step_rad: f64,
    zero_rad: f64,
    /// Amplitude and phase of the first and of the second harmonic.
    harmonics: [(f64, f64); 2],
}

impl Encoder {
    fn non_linearity_rad(&self, motor_rad: f64) -> f64 {
        let [(first, at), (second, and)] = self.harmonics;
        first * maths::quick_sin(motor_rad + at) + second * maths::quick_sin(2.0 * motor_rad + and)
    }

    /// An encoder that reads nothing where the motor is at `zero_rad`.
    pub(crate) fn new(step_rad: f64, zero_rad: f64, harmonics: [(f64, f64); 2]) -> Self {
        let encoder = Self { step_rad, zero_rad: 0.0, harmonics };
        Self { zero_rad: zero_rad + encoder.non_linearity_rad(zero_rad), ..encoder }
    }
}

impl Encoder {
    /// The middle of the step that it is in, rad.
    pub(crate) fn reads(&self, motor_rad: f64) -> f64 {
        self.steps(motor_rad) * self.step_rad + 0.5 * self.step_rad
    }

    /// Whole steps from its zero.
    pub(crate) fn steps(&self, motor_rad: f64) -> f64 {
        let angle = motor_rad - self.zero_rad + self.non_linearity_rad(motor_rad);
        (angle / self.step_rad).floor()
    }
}
