use dryturn_cube::Facelet;
use dryturn_scene::{STARTER, Scene};
use dryturn_units::colour::EncodedRgb8;

use super::*;
use crate::pixels::{Patches, Pixels};

/// A gleam is a patch where next to nothing is mirrored, and a veil where next to nothing was
/// added. Where there are both, colours come out that neither of them makes.
#[test]
fn a_gleam_is_a_patch_and_a_veil() {
    let patches = Patches::of(&Scene::parse(STARTER, "starter.ron").unwrap());
    let looks = Appearance::unseen(&patches);
    let facelet = Facelet::all().find(|facelet| patches.sees(0, *facelet)).unwrap();
    let says = |shown: [u8; 3], [patch, veil]: [f64; 2], besides: Besides| {
        let seen = looks.seen((0, facelet), &Pixels::even(EncodedRgb8(shown)));
        let change = &Change::all(DVec3::splat(-1.5)).with_second(patch).and_veil(veil);
        let (elsewhere, rates, stray) = (DVec3::ZERO, &Rates::USUAL, Stray::Steady);
        let given = Given { change, wider: 1.0, besides, elsewhere, rates, stray };
        told(&looks, &seen, (2, 0), &given).log
    };
    let (none, some) = (-40.0, 0.0);
    let mut most: f64 = 0.0;
    for shown in (0..216).map(|k| [k / 36, k / 6 % 6, k % 6].map(|v| 20 + 45 * v as u8)) {
        let [patch, veil, gleam] = [Besides::Patch, Besides::Veil, Besides::Gleam]
            .map(|besides| says(shown, [some, some], besides));
        let no_veil = says(shown, [some, none], Besides::Gleam);
        let no_patch = says(shown, [none, some], Besides::Gleam);
        assert!((no_veil - patch).abs() < 1e-6, "{shown:?}: {no_veil} {patch}");
        assert!((no_patch - veil).abs() < 1e-6, "{shown:?}: {no_patch} {veil}");
        most = most.max(gleam - patch.max(veil));
    }
    assert!(most > 1.0, "{most}");
}
