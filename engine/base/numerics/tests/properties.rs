//! What holds of every case.

use dryturn_numerics::regression::{half_width, jackknife_variances};
use dryturn_numerics::{
    bisect_increasing, bracket_increasing, golden_section, slopes, upper_median,
};
use dryturn_units::maths::whole_pow;
use proptest::prelude::*;

proptest! {
    /// The root of a cubic, to the last bit or two.
    #[test]
    fn roots_are_bracketed(root in -50.0..50.0f64, below in 0.1..100.0, above in 0.1..100.0) {
        let f = |x: f64| (x - root) * (1.0 + (x - root) * (x - root));
        let (low, high) = (root - below, root + above);
        let found = bisect_increasing(low, high, f);
        prop_assert!((found - root).abs() <= 1e-15 * (1.0 + root.abs()), "{found} for {root}");
        let mut before = [low, high];
        for halvings in 0..60 {
            let own = bracket_increasing(low, high, halvings, f);
            prop_assert!(f(own[0]) <= 0.0 && f(own[1]) >= 0.0);
            prop_assert!(before[0] <= own[0] && own[1] <= before[1]);
            let most = 1.0001 * (high - low) * whole_pow(0.5, halvings as u32) + 1e-13;
            prop_assert!(own[1] - own[0] <= most);
            before = own;
        }
    }

    /// What is left of a section holds the minimum, its two points are in order and have their
    /// own values.
    #[test]
    fn minima_are_kept(least in 0.0..10.0f64, bend in 0.1..10.0, sections in 0usize..40) {
        let f = |x: f64| bend * (x - least).abs();
        let [a, b] = golden_section(0.0, 10.0, sections, f);
        prop_assert!(a.0 <= b.0 + 1e-9 && a.1 == f(a.0) && b.1 == f(b.0));
        // The range that is left, over the part of it between the two.
        let left = (b.0 - a.0) / 0.236_067_977_499_79;
        prop_assert!((left / 10.0 - whole_pow(0.618_033_988_749_894_9, sections as u32)).abs() < 1e-6);
        prop_assert!((a.0 - least).abs() <= left + 1e-6 && (b.0 - least).abs() <= left + 1e-6);
    }

    /// As many on either side, in whatever order they come.
    #[test]
    fn medians_halve(mut values in prop::collection::vec(-1e6..1e6, 1..60)) {
        let median = upper_median(values.iter().copied()).unwrap();
        let below = values.iter().filter(|value| **value < median).count();
        let above = values.iter().filter(|value| **value > median).count();
        prop_assert!(below <= values.len() / 2 && above <= (values.len() - 1) / 2);
        values.reverse();
        prop_assert_eq!(upper_median(values), Some(median));
    }

    /// Slopes of a straight line are its slope, wherever it begins.
    #[test]
    fn lines_have_one_slope(slope in -10.0..10.0f64, at in -10.0..10.0, step in 1e-3..1.0) {
        let line: Vec<f64> = (0..20).map(|k| at + slope * step * f64::from(k)).collect();
        for found in slopes(&line, step) {
            prop_assert!((found - slope).abs() < 1e-10 / step);
        }
    }

    /// Of a mean the jackknife's variance is the textbook's: the sample variance over the count.
    #[test]
    fn the_jackknife_of_a_mean(values in prop::collection::vec(-100.0..100.0, 3..30)) {
        let n = values.len() as f64;
        let (sum, mean) = (values.iter().sum::<f64>(), values.iter().sum::<f64>() / n);
        let without: Vec<[f64; 1]> = values.iter().map(|v| [(sum - v) / (n - 1.0)]).collect();
        let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
        let wanted = squares / (n - 1.0) / n;
        let found = jackknife_variances(&without, 1)[0];
        prop_assert!((found - wanted).abs() <= 1e-9 * (1.0 + wanted), "{found} for {wanted}");
    }

    /// Intervals narrow with more witnesses, towards the normal one.
    #[test]
    fn intervals_narrow(freedom in 1usize..200) {
        prop_assert!(half_width(freedom) >= half_width(freedom + 1));
        prop_assert!(half_width(freedom) >= 1.96);
    }
}
