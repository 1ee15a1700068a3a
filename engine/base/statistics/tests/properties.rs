//! What holds of every count and every set of trials.

use dryturn_statistics::{
    PairedBootstrap, bootstrap_interval, exact_interval, exact_upper, further_trials, mean,
    normal_tail, quantile, sign_test, trials_without_failure, two_sided_quantile, wilson,
};
use dryturn_units::noise::{Noise, Seed};
use proptest::prelude::*;

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

/// How many failed, of how many trials.
fn counts() -> impl Strategy<Value = (usize, usize)> {
    (1usize..300).prop_flat_map(|trials| (0..=trials, Just(trials)))
}

fn values() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(-1e3..1e3f64, 1..40)
}

fn sorted(values: impl IntoIterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.into_iter().collect();
    values.sort_unstable_by(f64::total_cmp);
    values
}

fn noise(seed: u64) -> Noise {
    Seed::new(seed).stream("properties", 0, 0)
}

/// Whether an interval lies in another, but for rounding.
fn within(inner: (f64, f64), outer: (f64, f64)) -> bool {
    outer.0 <= inner.0 + 1e-8 && inner.1 <= outer.1 + 1e-8
}

/// Whether two intervals are one, but for rounding.
fn same(one: (f64, f64), other: (f64, f64)) -> bool {
    within(one, other) && within(other, one)
}

proptest! {
    #![proptest_config(cases(128))]

    /// An interval holds what was counted, and that of successes mirrors that of failures.
    #[test]
    fn intervals_hold_the_share((count, trials) in counts(), confidence in 0.5..0.999f64) {
        let share = count as f64 / trials as f64;
        let z = two_sided_quantile(confidence);
        let exact = |count| exact_interval(count, trials, confidence);
        let score = |count| wilson(count, trials, z);
        for [(low, high), other] in
            [[exact(count), exact(trials - count)], [score(count), score(trials - count)]]
        {
            prop_assert!(0.0 <= low && low <= share && share <= high && high <= 1.0);
            let mirrored = (1.0 - other.1, 1.0 - other.0);
            prop_assert!(same((low, high), mirrored), "{low} {high} {mirrored:?}");
        }
    }

    #[test]
    fn intervals_widen_with_confidence_and_narrow_with_trials(
        (count, trials) in counts(),
        confidence in 0.5..0.99f64,
        towards in 0.1..0.9f64,
        times in 2usize..6,
    ) {
        let surer = confidence + (1.0 - confidence) * towards;
        let [z, wider] = [confidence, surer].map(two_sided_quantile);
        prop_assert!(z < wider);
        let exact = |confidence| exact_interval(count, trials, confidence);
        prop_assert!(within(exact(confidence), exact(surer)));
        let score = wilson(count, trials, z);
        prop_assert!(within(score, wilson(count, trials, wider)));
        prop_assert!(within(wilson(times * count, times * trials, z), score));
        let bound = exact_upper(count, trials, confidence);
        prop_assert!(exact_upper(count, trials + 1, confidence) <= bound);
        prop_assert!(bound <= exact_upper(count + 1, trials, confidence));
        prop_assert!(bound <= exact_upper(count, trials, surer) + 1e-12);
    }

    /// So many trials more prove a claim, and one fewer does not.
    #[test]
    fn claims_need_the_fewest_trials(
        failures in 0usize..12,
        others in 0usize..400,
        rate in 0.005..0.5f64,
        confidence in 0.5..0.999f64,
    ) {
        let trials = failures + others;
        let more = further_trials(failures, trials, rate, confidence).unwrap();
        prop_assert!(exact_upper(failures, trials + more, confidence) <= rate + 1e-9);
        if more > 0 {
            prop_assert!(exact_upper(failures, trials + more - 1, confidence) > rate - 1e-9);
        }
        let none = further_trials(0, 0, rate, confidence);
        prop_assert_eq!(trials_without_failure(rate, confidence), none);
    }

    /// Which side is which does not matter, and the further apart two counts are the less it
    /// looks like luck.
    #[test]
    fn sign_tests_take_no_side(one in 0usize..200, other in 0usize..200) {
        let luck = sign_test(one, other);
        prop_assert_eq!(luck, sign_test(other, one));
        prop_assert!(luck > 0.0 && luck <= 1.0);
        let (few, many) = (one.min(other), one.max(other));
        prop_assert!(sign_test(few, many + 1) <= luck + 1e-12);
        prop_assert_eq!(sign_test(few, few), 1.0);
    }

    #[test]
    fn normal_tails_are_those_of_their_quantiles(
        confidence in 0.01..0.9999f64,
        z in 0.0..6.0f64,
        step in 1e-3..1.0f64,
    ) {
        let outside = 2.0 * normal_tail(two_sided_quantile(confidence));
        prop_assert!((outside - (1.0 - confidence)).abs() <= 1e-12);
        prop_assert!((normal_tail(z) + normal_tail(-z) - 1.0).abs() <= 1e-15);
        prop_assert!(normal_tail(z + step) < normal_tail(z));
        // Further out a confidence has too few digits left.
        let near = z.min(4.0);
        let again = two_sided_quantile(1.0 - 2.0 * normal_tail(near));
        prop_assert!((again - near).abs() <= 1e-6, "{again}");
    }

    /// Quantiles rise with their share from the least value to the greatest, and those of the
    /// negated values are their mirror. A mean lies between, in whatever order it is summed.
    #[test]
    fn quantiles_rise_and_mirror(values in values(), one in 0.0..=1.0f64, other in 0.0..=1.0f64) {
        let (rising, falling) =
            (sorted(values.iter().copied()), sorted(values.iter().map(|value| -value)));
        let (least, most) = (rising[0], rising[rising.len() - 1]);
        let at = |share| quantile(&rising, share).unwrap();
        prop_assert!(at(one.min(other)) <= at(one.max(other)) + 1e-9);
        prop_assert_eq!((at(0.0), at(1.0)), (least, most));
        prop_assert!((quantile(&falling, 1.0 - one).unwrap() + at(one)).abs() <= 1e-9);
        let no_more = rising.iter().filter(|value| **value <= at(one) + 1e-9).count();
        prop_assert!(no_more as f64 >= one * (rising.len() - 1) as f64 - 1e-9);
        prop_assert!((least - 1e-9..=most + 1e-9).contains(&mean(&values)));
        prop_assert!((mean(&values) - mean(&rising)).abs() <= 1e-9);
    }
}

proptest! {
    #![proptest_config(cases(64))]

    /// A bootstrap's interval holds that of less confidence, keeps to the values, and moves and
    /// grows with them.
    #[test]
    fn bootstraps_move_with_their_values(
        (values, seed) in (values(), any::<u64>()),
        share in 0.0..=1.0f64,
        confidence in 0.5..0.99f64,
        shift in -100.0..100.0f64,
        scale in 0.1..10.0f64,
    ) {
        let values = sorted(values);
        let of = |values: &[f64], confidence| {
            bootstrap_interval(values, share, confidence, noise(seed)).unwrap()
        };
        let own = of(&values, confidence);
        prop_assert!(own.0 <= own.1);
        prop_assert!(within(own, of(&values, 0.5 + 0.5 * confidence)));
        prop_assert!(within(own, (values[0], values[values.len() - 1])));
        let moved: Vec<f64> = values.iter().map(|value| shift + scale * value).collect();
        let wanted = (shift + scale * own.0, shift + scale * own.1);
        prop_assert!(same(of(&moved, confidence), wanted), "{own:?}");
    }

    /// What follows from another column in every row follows from it in every resample.
    #[test]
    fn rows_are_drawn_whole(
        (values, seed) in (values(), any::<u64>()),
        confidence in 0.5..0.99f64,
        shift in -100.0..100.0f64,
        scale in 0.1..10.0f64,
    ) {
        let rows: Vec<Vec<f64>> = values.iter().map(|x| vec![*x, shift + scale * x]).collect();
        let bootstrap = PairedBootstrap::of(&rows, noise(seed)).unwrap();
        let (first, ends) = bootstrap.figure(|means| means[0], confidence);
        let (second, other) = bootstrap.figure(|means| means[1], confidence);
        prop_assert!((first - mean(&values)).abs() <= 1e-9);
        prop_assert!((second - (shift + scale * first)).abs() <= 1e-9);
        prop_assert!(same(other, (shift + scale * ends.0, shift + scale * ends.1)));
        prop_assert!(within(ends, bootstrap.figure(|means| means[0], 0.5 + 0.5 * confidence).1));
    }
}
