//! Slopes by differences.

use core::ops::Sub;

/// The central difference of a function by one of its arguments, `f(x + h) − f(x − h)`: over
/// `2 h` it is the slope, to the order of `h²`. `None` where either has no value.
///
/// # Panics
/// If there is no such argument.
pub fn central_difference<const N: usize, T: Sub<Output = T>>(
    at: &[f64; N],
    argument: usize,
    step: f64,
    of: impl Fn(&[f64; N]) -> Option<T>,
) -> Option<T> {
    let (mut ahead, mut behind) = (*at, *at);
    ahead[argument] += step;
    behind[argument] -= step;
    Some(of(&ahead)? - of(&behind)?)
}

/// Slopes of even samples, `step` apart: central differences, one-sided at the ends; 0 of a
/// single one.
#[must_use]
pub fn slopes(values: &[f64], step: f64) -> Vec<f64> {
    let last = values.len().saturating_sub(1);
    let slope = |k: usize| {
        let (from, to) = (k.saturating_sub(1), (k + 1).min(last));
        if to > from { (values[to] - values[from]) / ((to - from) as f64 * step) } else { 0.0 }
    };
    (0..values.len()).map(slope).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_of_lines_and_parabolas() {
        let line: Vec<f64> = (0..300).map(|k| f64::from(k) * 0.5).collect();
        assert!(slopes(&line, 0.5).iter().all(|slope| (slope - 1.0).abs() < 1e-12));
        assert_eq!(slopes(&[1.0], 0.1), [0.0]);
        // Exact for a parabola but for rounding, and by the other argument nothing.
        let of = |at: &[f64; 2]| (at[0] < 4.0).then_some(at[0] * at[0]);
        let apart = central_difference(&[3.0, 7.0], 0, 0.25, of).unwrap();
        assert_eq!(apart / 0.5, 6.0);
        assert_eq!(central_difference(&[3.0, 7.0], 1, 0.25, of), Some(0.0));
        assert_eq!(central_difference(&[3.9, 7.0], 0, 0.25, of), None);
    }
}
