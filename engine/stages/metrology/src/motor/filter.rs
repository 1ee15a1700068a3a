//! A low-pass without delay: Butterworth of second order, forwards and backwards.
//!
//! The digital filter is the analogue one under the bilinear transform with its corner
//! warped back (A. V. Oppenheim and R. W. Schafer, *Discrete-Time Signal Processing*; from
//! memory). Both directions together have no phase, and half the amplitude at the corner.
//! Ends are continued by reflection through their last point, and the filter starts as if
//! it had stood there for ever (F. Gustafsson, IEEE Trans. Signal Processing 44, 1996, for
//! the problem; from memory).

use core::f64::consts::{PI, SQRT_2};

use dryturn_units::maths;

/// So many periods of the corner are continued at each end.
const PADDED_PERIODS: f64 = 3.0;

/// A zero-phase low-pass for even samples.
#[derive(Clone, Copy, Debug)]
pub struct LowPass {
    /// Feed-forward; the middle one counts twice.
    b: f64,
    /// Feed-back.
    a: [f64; 2],
    pad: usize,
}

impl LowPass {
    /// With its corner at `corner_hz`, for samples `step_s` apart. The corner must be below
    /// half of the samples' rate.
    #[must_use]
    pub fn new(corner_hz: f64, step_s: f64) -> Self {
        let k = maths::tan(PI * corner_hz * step_s);
        let whole = 1.0 + SQRT_2 * k + k * k;
        Self {
            b: k * k / whole,
            a: [2.0 * (k * k - 1.0) / whole, (1.0 - SQRT_2 * k + k * k) / whole],
            pad: (PADDED_PERIODS / (corner_hz * step_s)).ceil() as usize,
        }
    }

    /// One direction, in place.
    fn pass(&self, values: &mut [f64]) {
        let Some(&first) = values.first() else { return };
        let (b, [a1, a2]) = (self.b, self.a);
        // The memory of a filter that has seen nothing but the first value.
        let (mut one, mut two) = (first * (1.0 - b), first * (b - a2));
        for value in values {
            let given = *value;
            let out = b * given + one;
            one = 2.0 * b * given - a1 * out + two;
            two = b * given - a2 * out;
            *value = out;
        }
    }

    /// The filtered values.
    #[must_use]
    pub fn filtered(&self, values: &[f64]) -> Vec<f64> {
        let (Some(&first), Some(&last)) = (values.first(), values.last()) else {
            return Vec::new();
        };
        let pad = self.pad.min(values.len() - 1);
        let before = values[1..=pad].iter().rev().map(|value| 2.0 * first - value);
        let after = values[values.len() - 1 - pad..values.len() - 1].iter().rev();
        let after = after.map(|value| 2.0 * last - value);
        let mut padded: Vec<f64> = before.chain(values.iter().copied()).chain(after).collect();
        self.pass(&mut padded);
        padded.reverse();
        self.pass(&mut padded);
        padded.reverse();
        padded[pad..pad + values.len()].to_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What does not change stays; the corner's amplitude is halved, without delay.
    #[test]
    fn the_corner_is_halved_without_delay() {
        let step_s = 1e-3;
        let filter = LowPass::new(20.0, step_s);
        assert!(filter.filtered(&[3.0; 400]).iter().all(|v| (v - 3.0).abs() < 1e-12));
        let wave = |k: usize| maths::sin(2.0 * PI * 20.0 * k as f64 * step_s);
        let values: Vec<f64> = (0..2000).map(wave).collect();
        let out = filter.filtered(&values);
        assert!((800..1200).all(|k| (out[k] - 0.5 * values[k]).abs() < 1e-3));
        let line: Vec<f64> = (0..300).map(|k| f64::from(k) * 0.5).collect();
        let kept = filter.filtered(&line);
        assert!((100..200).all(|k| (kept[k] - line[k]).abs() < 1e-3));
        assert!(filter.filtered(&[]).is_empty());
    }
}
