//! Figures about many trials.

use dryturn_units::maths;

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
    (((centre - half) / scale).max(0.0), ((centre + half) / scale).min(1.0))
}

/// Two-sided 95 % normal quantile.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// The largest share at which `count` or fewer of `trials` still have a probability of
/// 1 − `confidence` (C. J. Clopper and E. S. Pearson, Biometrika 26, 1934, one-sided); 1
/// without trials.
#[must_use]
pub fn exact_upper(count: usize, trials: usize, confidence: f64) -> f64 {
    if count >= trials {
        return 1.0;
    }
    let n = trials as f64;
    // Probability of `count` or fewer at a share, term by term.
    let at_most = |share: f64| {
        let odds = share / (1.0 - share);
        let mut log_term = n * maths::ln_1p(-share);
        let mut sum = maths::exp(log_term);
        for k in 1..=count {
            let k = k as f64;
            log_term += maths::ln(odds * (n - k + 1.0) / k);
            sum += maths::exp(log_term);
        }
        sum
    };
    maths::bisect_increasing(0.0, 1.0, |share| 1.0 - confidence - at_most(share))
}

/// The normal quantile of a two-sided confidence in (0, 1), by bisection on the
/// error function.
#[must_use]
pub fn two_sided_quantile(confidence: f64) -> f64 {
    maths::bisect_increasing(0.0, 40.0, |z| maths::erf(z / core::f64::consts::SQRT_2) - confidence)
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

    /// Of no events in n trials: 1 − 0.05^(1/n). One in 1000: 0.004735 (Poisson limit 4.744
    /// of n; E. S. Pearson and H. O. Hartley, Biometrika Tables, table 40; from memory).
    #[test]
    fn exact_bounds() {
        let none = exact_upper(0, 3000, 0.95);
        assert!((none - (1.0 - 0.05f64.powf(1.0 / 3000.0))).abs() < 1e-9, "{none}");
        let one = exact_upper(1, 1000, 0.95);
        assert!((one - 0.004735).abs() < 1e-5, "{one}");
        assert_eq!(exact_upper(3, 3, 0.95), 1.0);
    }

    #[test]
    fn quantiles_interpolate() {
        let values = [1.0, 2.0, 4.0];
        assert_eq!(quantile(&values, 0.5), Some(2.0));
        assert_eq!(quantile(&values, 0.75), Some(3.0));
        assert_eq!(quantile(&[], 0.5), None);
    }
}
