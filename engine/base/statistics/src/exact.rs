//! What counts of failures say about their rate, exactly (binomial): a trial is
//! a whole cube, not a turn.

use dryturn_numerics::bisect_increasing;
use dryturn_units::maths;

/// The largest share at which `count` or fewer of `trials` still have a probability of
/// 1 − `confidence` (C. J. Clopper and E. S. Pearson, Biometrika 26, 1934, one-sided); 1
/// without trials.
#[must_use]
pub fn exact_upper(count: usize, trials: usize, confidence: f64) -> f64 {
    if count >= trials {
        return 1.0;
    }
    bisect_increasing(0.0, 1.0, |share| 1.0 - confidence - at_most(count, trials, share))
}

/// Clopper and Pearson's two-sided interval for a share: `count` or more have a probability
/// of half of 1 − `confidence` at its lower end, `count` or fewer at its upper end. 0 to 1
/// without trials.
#[must_use]
pub fn exact_interval(count: usize, trials: usize, confidence: f64) -> (f64, f64) {
    let tail = 0.5 * (1.0 - confidence);
    // `count` or more at `tail` is `count − 1` or fewer at 1 − `tail`.
    let low = count.checked_sub(1).map_or(0.0, |below| exact_upper(below, trials, tail));
    (low, exact_upper(count, trials, 1.0 - tail))
}

/// How many trials without a failure support "the rate is below `rate`" at a one-sided
/// confidence: `(1 − rate)^n ≤ 1 − confidence` (about 3/rate at 95 %; B. D. Jovanovic and
/// P. S. Levy, Am. Stat. 51, 1997). `None` where no number does: a rate not above 0, or a
/// confidence not below 1.
#[must_use]
pub fn trials_without_failure(rate: f64, confidence: f64) -> Option<usize> {
    if !provable(rate, confidence) {
        return None;
    }
    let trials = (maths::ln(1.0 - confidence) / maths::ln_1p(-rate.min(1.0))).ceil();
    (trials < usize::MAX as f64).then_some((trials as usize).max(1))
}

/// How many trials more, if none of them fails, support "the rate is below `rate`" at a
/// one-sided confidence, after `failures` in `trials`: the fewest at which [`exact_upper`]
/// is no higher than `rate`. 0 where it already is; `None` where no number does.
#[must_use]
pub fn further_trials(failures: usize, trials: usize, rate: f64, confidence: f64) -> Option<usize> {
    if !provable(rate, confidence) {
        return None;
    }
    let enough = |n: usize| at_most(failures, n, rate) <= 1.0 - confidence;
    // As many trials as failures never are; double until they are, then halve the step.
    let (mut few, mut many) = (failures, failures.checked_add(1)?);
    while !enough(many) {
        few = many;
        many = many.checked_mul(2)?;
    }
    while many - few > 1 {
        let middle = few + (many - few) / 2;
        if enough(middle) {
            many = middle;
        } else {
            few = middle;
        }
    }
    Some(many.saturating_sub(trials))
}

/// How likely luck alone makes two counts differ so much or more, where each event is as likely to
/// fall on either side: the two-sided sign test, for trials that only one of two passed (Q. McNemar,
/// Psychometrika 12, 1947, exactly). 1 without events.
#[must_use]
pub fn sign_test(one: usize, other: usize) -> f64 {
    (2.0 * at_most(one.min(other), one + other, 0.5)).min(1.0)
}

/// Whether a claim "below `rate`" can be supported by any number of trials.
fn provable(rate: f64, confidence: f64) -> bool {
    rate > 0.0 && confidence < 1.0
}

/// Probability of `count` or fewer of `trials` at a share, term by term.
fn at_most(count: usize, trials: usize, share: f64) -> f64 {
    if count >= trials {
        return 1.0;
    }
    if share >= 1.0 {
        return 0.0;
    }
    let n = trials as f64;
    let odds = share / (1.0 - share);
    let mut log_term = n * maths::ln_1p(-share);
    let mut sum = maths::exp(log_term);
    for k in 1..=count {
        let k = k as f64;
        log_term += maths::ln(odds * (n - k + 1.0) / k);
        sum += maths::exp(log_term);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of no events in n trials: 1 − 0.05^(1/n). One in 1000: 0.004735 (Poisson limit 4.744
    /// of n; E. S. Pearson and H. O. Hartley, Biometrika Tables, table 40; from memory).
    #[test]
    fn exact_bounds() {
        let none = exact_upper(0, 3000, 0.95);
        assert!((none - (1.0 - maths::pow(0.05, 1.0 / 3000.0))).abs() < 1e-9, "{none}");
        let one = exact_upper(1, 1000, 0.95);
        assert!((one - 0.004735).abs() < 1e-5, "{one}");
        assert_eq!(exact_upper(3, 3, 0.95), 1.0);
    }

    /// SciPy 1.17.1, `binomtest(count, trials).proportion_ci(confidence, "exact")`.
    #[test]
    fn exact_intervals_match_scipy() {
        for (count, trials, confidence, low, high) in [
            (0, 300, 0.95, 0.0, 0.012_220_974_694_296_421),
            (1, 473, 0.95, 5.352_458_861_658_878_4e-5, 0.011_722_605_254_181_683),
            (3, 40, 0.90, 0.020_753_601_475_370_347, 0.182_586_850_015_901_16),
            (40, 40, 0.95, 0.911_902_697_121_196_6, 1.0),
            (37, 40, 0.99, 0.751_627_725_230_504_7, 0.991_372_211_158_350_6),
            (250, 100_000, 0.95, 0.002_199_999_496_264_977, 0.002_829_410_059_873_657_8),
            (5000, 9000, 0.95, 0.545_217_443_692_196_3, 0.565_857_685_094_968_9),
        ] {
            let found = exact_interval(count, trials, confidence);
            for (found, wanted) in [(found.0, low), (found.1, high)] {
                assert!((found - wanted).abs() <= 1e-9 * wanted, "{found} for {wanted}");
            }
        }
        assert_eq!(exact_interval(0, 0, 0.95), (0.0, 1.0));
    }

    /// Fewest trials for "below RATE at CONFIDENCE" after so many failures: SciPy 1.17.1,
    /// bisection on `binom.cdf(failures, n, rate) <= 1 - confidence`. 299, 473 and 628 are
    /// the figures that the trade plans with; 300 its rule of three.
    #[test]
    fn trials_needed_match_scipy() {
        let claims = [(0.01, 0.95), (0.001, 0.99), (0.05, 0.90), (0.5, 0.95)];
        for (failures, needed) in [
            (0, [299, 4603, 45, 5]),
            (1, [473, 6636, 77, 8]),
            (2, [628, 8403, 105, 11]),
            (3, [773, 10042, 132, 13]),
            (10, [1693, 20140, 306, 30]),
            (50, [6323, 69058, 1202, 119]),
        ] {
            for ((rate, confidence), total) in claims.into_iter().zip(needed) {
                let further = |trials| further_trials(failures, trials, rate, confidence);
                assert_eq!(further(failures), Some(total - failures));
                assert_eq!((further(total - 1), further(total)), (Some(1), Some(0)));
                assert_eq!(further(10 * total), Some(0));
                assert!(exact_upper(failures, total, confidence) <= rate);
                assert!(exact_upper(failures, total - 1, confidence) > rate);
                if failures == 0 {
                    assert_eq!(trials_without_failure(rate, confidence), Some(total));
                }
            }
        }
    }

    /// SciPy 1.17.1, `binomtest(one, one + other).pvalue`.
    #[test]
    fn sign_tests_match_scipy() {
        for (one, other, wanted) in [
            (0, 0, 1.0),
            (0, 1, 1.0),
            (1, 5, 0.21875),
            (6, 0, 0.03125),
            (3, 3, 1.0),
            (12, 30, 0.007_915_897_334_896_727),
            (520, 400, 8.549_170_923_883_781e-5),
            (2, 9998, 0.0),
        ] {
            let found = sign_test(one, other);
            assert!((found - wanted).abs() <= 1e-9 * wanted, "{found} for {wanted}");
        }
    }

    #[test]
    fn what_no_trials_can_show_has_no_number() {
        for (rate, confidence) in [(0.0, 0.95), (-0.1, 0.95), (f64::NAN, 0.95), (0.01, 1.0)] {
            assert_eq!(trials_without_failure(rate, confidence), None);
            assert_eq!(further_trials(2, 100, rate, confidence), None);
        }
        assert_eq!(trials_without_failure(1.0, 0.95), Some(1));
        assert_eq!(further_trials(3, 3, 1.0, 0.95), Some(1));
        assert_eq!(further_trials(0, 0, 1e-300, 0.95), None);
    }
}
