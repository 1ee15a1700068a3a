//! What holds of every reading that is told, and of maps of depth.

use dryturn_cube::{Face, Facelet, random_state};
use dryturn_handoff::{Labels, MapValues, Outcome, PixelMap, Reading, RefusalKind};
use dryturn_units::noise::Seed;
use proptest::prelude::*;

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(cases(128))]

    /// A reader from outside is taken at its word, cube or none.
    #[test]
    fn what_is_told_is_read(seed in any::<u64>(), cameras in 0usize..6) {
        let state = random_state(&mut Seed::new(seed).stream("told", 0, 0));
        let read = Reading::told(Outcome::Read(state), cameras);
        prop_assert_eq!((read.state(), read.refusal()), (Some(&state), None));
        let colours = Facelet::all().map(|facelet| read.colour(facelet));
        prop_assert!(colours.eq(state.colours().into_iter().map(Some)));
        prop_assert_eq!((read.cameras.len(), read.centres), (cameras, Face::ALL));
        let (refusal, because) = (RefusalKind::Told, "it says so".to_owned());
        let outcome = Outcome::Unreadable { refusal, because, weakest: Vec::new() };
        let none = Reading::told(outcome, cameras);
        prop_assert_eq!((none.state(), none.refusal()), (None, Some(refusal)));
        prop_assert!(Facelet::all().all(|facelet| none.colour(facelet).is_none()));
    }

    /// Maps of depth have the nearest tenth, and their greatest number from there on.
    #[test]
    fn depths_are_mapped_to_tenths(
        depth_mm in prop::collection::vec(
            prop_oneof![0.0..8000.0f32, Just(f32::INFINITY)],
            0..40,
        ),
    ) {
        let (width, height) = (depth_mm.len(), 1);
        let codes = vec![0; width];
        let clipped = vec![false; width];
        let labels = Labels { width, height, codes, depth_mm, clipped, facelets: Vec::new() };
        let map = PixelMap::depth(&labels);
        let MapValues::DepthTenthsMm(tenths) = map.values else {
            return Err(TestCaseError::fail("a map of something else"));
        };
        prop_assert_eq!((map.width, map.height, tenths.len()), (width, height, width));
        for (tenth, mm) in tenths.into_iter().zip(labels.depth_mm) {
            let off_mm = f64::from(tenth) / 10.0 - f64::from(mm).min(6553.5);
            prop_assert!(off_mm.abs() <= 0.051, "{tenth} for {mm} mm");
        }
    }
}
