//! What holds of every angle, colour, draw, table and watched work.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use dryturn_units::colour::{
    EncodedRgb8, LinearRgb, decode_srgb, decode_srgb8, encode_srgb, encode_srgb8,
};
use dryturn_units::noise::Seed;
use dryturn_units::stop::{Stop, Stopped, checkpoint};
use dryturn_units::{Lab, Xyz, degrees, maths, radians, table};
use proptest::prelude::*;

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

fn lab(code: EncodedRgb8) -> Lab {
    Xyz::of_srgb(code.decode()).to_lab(Xyz::of_srgb(LinearRgb([1.0; 3])))
}

proptest! {
    #![proptest_config(cases(256))]

    #[test]
    fn angles_and_powers_come_back(
        angle_deg in -720.0..720.0f64,
        half_rad in 0.01..3.0f64,
        base in 0.5..2.0f64,
        (m, n) in (0u32..12, 0u32..12),
    ) {
        let angle_rad = radians(angle_deg);
        prop_assert!((degrees(angle_rad) - angle_deg).abs() <= 1e-12);
        let (sin, cos) = (maths::sin(angle_rad), maths::cos(angle_rad));
        prop_assert!((sin * sin + cos * cos - 1.0).abs() <= 1e-15);
        prop_assert!((maths::quick_sin(angle_rad) - sin).abs() <= 1e-8);
        for side in [half_rad, -half_rad] {
            let again = maths::atan2(maths::sin(side), maths::cos(side));
            prop_assert!((again - side).abs() <= 1e-14);
        }
        prop_assert!((maths::acos(maths::cos(half_rad)) - half_rad).abs() <= 1e-12);
        let (both, apart) =
            (maths::whole_pow(base, m + n), maths::whole_pow(base, m) * maths::whole_pow(base, n));
        prop_assert!((both / apart - 1.0).abs() <= 1e-13);
        prop_assert!((maths::ln(maths::exp(angle_rad)) - angle_rad).abs() <= 1e-14);
    }

    #[test]
    fn more_light_is_never_a_darker_code(light in -0.2..1.2f64, more in 1e-6..0.5f64) {
        let lighter = light + more;
        prop_assert!(encode_srgb(light) < encode_srgb(lighter));
        prop_assert!(decode_srgb(light) < decode_srgb(lighter));
        prop_assert!(encode_srgb8(light) <= encode_srgb8(lighter));
    }

    /// Of the 256 codes the nearest, and back to the light that the code stands for. The two
    /// branches of the standard meet to some 1e-8.
    #[test]
    fn light_gets_its_nearest_code(light in 0.0..=1.0f64, codes in any::<[u8; 3]>()) {
        let code = f64::from(encode_srgb8(light));
        prop_assert!((255.0 * encode_srgb(light) - code).abs() <= 0.5 + 1e-9, "{code}");
        prop_assert!((decode_srgb(encode_srgb(light)) - light).abs() <= 1e-7);
        prop_assert_eq!(EncodedRgb8(codes).decode().encode(), EncodedRgb8(codes));
        let by_formula = codes.map(|code| decode_srgb(f64::from(code) / 255.0));
        prop_assert_eq!(codes.map(decode_srgb8), by_formula);
    }

    #[test]
    fn colour_differences_are_distances(codes in any::<[[u8; 3]; 3]>()) {
        let [a, b, c] = codes.map(EncodedRgb8);
        let far = EncodedRgb8::summed_difference;
        prop_assert_eq!(far(a, b), far(b, a));
        prop_assert_eq!(far(a, b) == 0, a == b);
        prop_assert!(far(a, c) <= far(a, b) + far(b, c));
        let seen = lab(a).difference(lab(b));
        prop_assert!(seen >= 0.0 && (seen - lab(b).difference(lab(a))).abs() <= 1e-9);
        prop_assert_eq!(lab(a).difference(lab(a)), 0.0);
        // No lighter than white, and no darker than black.
        prop_assert!((-1e-9..=100.0 + 1e-9).contains(&lab(a).0[0]));
    }

    /// Every part of a name counts, and nothing else does.
    #[test]
    fn streams_follow_from_their_names(
        (seed, trial, index) in any::<(u64, u64, u64)>(),
        change in 1..u64::MAX,
        stage in "[a-z ]{0,12}",
        other in "[a-z ]{0,12}",
    ) {
        let words = |seed: u64, stage: &str, trial: u64, index: u64| {
            let mut noise = Seed::new(seed).stream(stage, trial, index);
            [(); 4].map(|()| noise.bits())
        };
        let own = words(seed, &stage, trial, index);
        prop_assert_eq!(own, words(seed, &stage, trial, index));
        prop_assert_eq!(own[0], Seed::new(seed).trial(trial).stream(&stage, index).bits());
        prop_assert_ne!(own, words(seed ^ change, &stage, trial, index));
        prop_assert_ne!(own, words(seed, &stage, trial ^ change, index));
        prop_assert_ne!(own, words(seed, &stage, trial, index ^ change));
        prop_assert_eq!(own == words(seed, &other, trial, index), stage == other);
    }

    #[test]
    fn draws_keep_to_their_ranges(
        seed in any::<u64>(),
        low in -1e6..1e6f64,
        width in 1e-3..1e6f64,
    ) {
        let mut noise = Seed::new(seed).stream("ranges", 0, 0);
        for _ in 0..50 {
            prop_assert!((0.0..1.0).contains(&noise.uniform()));
            prop_assert!((low..=low + width).contains(&noise.between(low, low + width)));
            // No uniform draw is nearer to 1 than 2⁻⁵³, so no normal one is beyond 8.58.
            let pair = noise.clone().two_gaussians();
            prop_assert!(pair.0.abs() <= 8.58 && pair.1.abs() <= 8.58, "{pair:?}");
            prop_assert_eq!(pair, (noise.gaussian(), noise.gaussian()));
        }
    }

    #[test]
    fn tables_keep_lines_cells_and_numbers(
        lines in prop::collection::vec("[ #,a-z0-9µ.-]{0,12}", 0..12),
        most in 0usize..20,
        value in -1e3..1e3f64,
        low in -1e3..0.0f64,
        high in 0.0..1e3f64,
    ) {
        let text = lines.join("\n");
        let empty = |line: &String| line.trim().is_empty() || line.trim().starts_with('#');
        let mut passed = 0;
        for row in table::rows(&text) {
            prop_assert!(lines[passed..row.line - 1].iter().all(empty));
            prop_assert_eq!(empty(&lines[row.line - 1]), false);
            prop_assert_eq!(row.text, lines[row.line - 1].trim());
            prop_assert_eq!(row.cells.len(), row.text.matches(',').count() + 1);
            prop_assert!(row.cells.iter().all(|cell| *cell == cell.trim()));
            passed = row.line;
        }
        prop_assert!(lines[passed..].iter().all(empty));
        let shown = table::shown(&text, most);
        prop_assert!(text.starts_with(&shown));
        prop_assert_eq!(shown.chars().count(), text.chars().count().min(most));
        let text = format!("a,{value}, {low} ,");
        let row = table::rows(&text).next().unwrap();
        let within = (low..=high).contains(&value);
        prop_assert_eq!(row.number(1, low, high), within.then_some(value));
        prop_assert_eq!(row.number(2, low, high), Some(low));
        prop_assert_eq!([0, 3].map(|cell| row.number(cell, -1e9, 1e9)), [None; 2]);
    }

    /// A work ends at the first question that is answered yes, and is asked no more.
    #[test]
    fn watched_works_end_where_they_shall(steps in 0usize..50, patience in 0usize..50) {
        let asked = Arc::new(AtomicUsize::new(0));
        let counter = asked.clone();
        let stop = Stop::new(move |_| counter.fetch_add(1, Ordering::Relaxed) >= patience);
        let ended = stop.watch(|| {
            (0..steps).for_each(|_| checkpoint());
            steps
        });
        prop_assert_eq!(ended, if steps <= patience { Ok(steps) } else { Err(Stopped) });
        prop_assert_eq!(asked.load(Ordering::Relaxed), steps.min(patience + 1));
    }
}
