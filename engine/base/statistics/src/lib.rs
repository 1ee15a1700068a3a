//! Figures about many trials.

mod bootstrap;
mod exact;
mod paired;

use dryturn_numerics::bisect_increasing;
use dryturn_units::maths;

pub use bootstrap::{RESAMPLES, bootstrap_interval};
pub use exact::{exact_interval, exact_upper, further_trials, sign_test, trials_without_failure};
pub use paired::PairedBootstrap;

/// Wilson's score interval for a share (E. B. Wilson, J. Am. Stat. Assoc. 22,
/// 1927): `count` of `trials` at the normal quantile `z` (1.959964 for 95 %).
/// 0 to 1 when there are no trials.
#[must_use]
pub fn wilson(count: usize, trials: usize, z: f64) -> (f64, f64) {
    if trials == 0 {
        return (0.0, 1.0);
    }
    let n = trials as f64;
    let p = count as f64 / n;
    let centre = p + z * z / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z * z / n;
    // Exactly none and all, which rounding would miss by a hair.
    let low = if count == 0 { 0.0 } else { (centre - half) / scale };
    let high = if count == trials { 1.0 } else { (centre + half) / scale };
    (low.max(0.0), high.min(1.0))
}

/// A count in words: `jammed 3 of 200 (95 % interval 0.5 to 4.3 %)`, by Wilson.
#[must_use]
pub fn share_in_words(what: &str, count: usize, trials: usize, decimals: usize) -> String {
    let (low, high) = wilson(count, trials, Z_95);
    format!(
        "{what} {count} of {trials} (95 % interval {:.decimals$} to {:.decimals$} %)",
        low * 100.0,
        high * 100.0
    )
}

/// Two-sided 95 % normal quantile.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// The normal quantile of a two-sided confidence in (0, 1), by bisection on the
/// error function.
#[must_use]
pub fn two_sided_quantile(confidence: f64) -> f64 {
    bisect_increasing(0.0, 40.0, |z| maths::erf(z / core::f64::consts::SQRT_2) - confidence)
}

/// The probability that a standard normal draw is above `z`: of two normal distributions of
/// like spread whose means are `2 z` standard deviations apart, the share of each on the
/// other's side of the middle.
#[must_use]
pub fn normal_tail(z: f64) -> f64 {
    0.5 * maths::erfc(z / core::f64::consts::SQRT_2)
}

/// Mean of some values; 0 of none.
#[must_use]
pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// The value below which a share of sorted values lies, by linear
/// interpolation between order statistics; `None` for no values.
#[must_use]
pub fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let at = share.clamp(0.0, 1.0) * last as f64;
    let (below, above) = (at.floor() as usize, at.ceil() as usize);
    Some(sorted[below] + (sorted[above] - sorted[below]) * (at - below as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How many trials support "below 1 %" by Wilson's two-sided 95 % interval with no, one and
    /// two failures: SciPy 1.17.1, `binomtest(...).proportion_ci(0.95, "wilson")`.
    #[test]
    fn wilson_needs_more_trials_than_the_exact_one_sided_bound() {
        for (failures, needed) in [(0, 381), (1, 563), (2, 726)] {
            assert!(wilson(failures, needed, Z_95).1 < 0.01);
            assert!(wilson(failures, needed - 1, Z_95).1 >= 0.01);
        }
    }

    #[test]
    fn quantiles_interpolate() {
        let values = [1.0, 2.0, 4.0];
        assert_eq!(quantile(&values, 0.5), Some(2.0));
        assert_eq!(quantile(&values, 0.75), Some(3.0));
        assert_eq!(quantile(&[], 0.5), None);
    }
}
