//! What holds of light and codes, whatever the lamps, surfaces and sensors.

mod lab;

use core::f64::consts::TAU;

use dryturn_cube::{CubeState, Stickering};
use dryturn_geometry::{DVec3, rotation};
use dryturn_optics::mosaic::{Raw, channel_at};
use dryturn_optics::sensor::ReadOut;
use dryturn_optics::surface::{fresnel, ggx, smith};
use dryturn_optics::{AsBuilt, LitView, Shot, Taken};
use dryturn_scene::Scene;
use dryturn_scene::file::{LampShape, Mosaic, SceneFile};
use dryturn_units::maths;
use dryturn_units::noise::Seed;
use lab::{foyer, lab};
use proptest::prelude::*;

/// Highest code of the lab's sensors.
const FULL_CODE: u16 = u16::MAX;

/// A direction above the horizon of a surface that lies flat.
fn above() -> impl Strategy<Value = DVec3> {
    (0.05..1.0f64, 0.0..TAU).prop_map(|(height, angle)| {
        let across = (1.0 - height * height).sqrt();
        DVec3::new(across * maths::cos(angle), across * maths::sin(angle), height)
    })
}

/// Two lamps in a dark room before a small picture, without noise; then changed.
fn two_lamps(fluxes_lm: [f64; 2], change: impl FnOnce(&mut SceneFile)) -> Scene {
    lab(|file| {
        file.surroundings.ambient_lux = 0.0;
        small(file, 0);
        let mut side = file.lamps[0].clone();
        (side.name, side.position_mm) = ("side".to_owned(), [-500.0, 300.0, 400.0]);
        file.lamps.push(side);
        file.lamps.iter_mut().zip(fluxes_lm).for_each(|(lamp, flux_lm)| lamp.flux_lm = flux_lm);
        change(file);
    })
}

fn small(file: &mut SceneFile, camera: usize) {
    let camera = &mut file.cameras[camera];
    (camera.width_px, camera.height_px, camera.samples_px) = (64, 64, 4);
}

fn taken(view: &LitView, scene: &Scene, seed: u64, trial: u64) -> Taken {
    let shown = Stickering::from(&CubeState::SOLVED);
    let shot = Shot { seed: Seed::new(seed), name: "properties", trial, second: false };
    view.take(scene, &AsBuilt::exactly(scene), &shown, shot)
}

fn trace(scene: &Scene, camera: usize) -> LitView {
    LitView::trace(scene, &AsBuilt::exactly(scene), camera)
}

/// Codes of one picture beside those of another, where neither is the highest.
fn pairs(a: &Taken, b: &Taken) -> impl Iterator<Item = (f64, f64)> {
    let below = |(a, b): &(&u16, &u16)| **a < FULL_CODE && **b < FULL_CODE;
    let both = a.raw.codes.iter().zip(&b.raw.codes).filter(below);
    both.map(|(a, b)| (f64::from(*a), f64::from(*b)))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// A coat mirrors between nothing and all of the light: at right angles as the index says
    /// (Fresnel's equations; from memory), at grazing ones all.
    #[test]
    fn a_share_is_mirrored(cosine in 0.0..=1.0f64, index in 1.01..4.0f64, alpha in 0.01..1.0f64) {
        prop_assert!((0.0..=1.0).contains(&fresnel(cosine, index)));
        let ahead = (index - 1.0) / (index + 1.0);
        prop_assert!((fresnel(1.0, index) - ahead * ahead).abs() < 1e-12);
        prop_assert!((fresnel(0.0, index) - 1.0).abs() < 1e-12);
        prop_assert!((0.0..=1.0).contains(&smith(cosine.max(0.01), alpha)));
    }

    /// What a coat sends from lamp to eye it sends from eye to lamp (Helmholtz's reciprocity; from
    /// memory), however surface, eye and lamp are turned together, and nothing comes from below.
    #[test]
    fn light_goes_either_way(
        eye in above(),
        lamp in above(),
        alpha in 0.05..1.0f64,
        index in prop::option::of(1.01..3.0f64),
        turn in prop::array::uniform3(-3.0..3.0f64),
    ) {
        let there = ggx(DVec3::Z, eye, lamp, alpha, index);
        prop_assert!(there > 0.0 && there.is_finite());
        let back = ggx(DVec3::Z, lamp, eye, alpha, index);
        prop_assert!((back / there - 1.0).abs() < 1e-9, "{there} {back}");
        let turn = rotation(DVec3::from_array(turn));
        let turned = ggx(turn * DVec3::Z, turn * eye, turn * lamp, alpha, index);
        prop_assert!((turned / there - 1.0).abs() < 1e-8, "{there} {turned}");
        prop_assert_eq!(ggx(DVec3::Z, eye, -lamp, alpha, index), 0.0);
    }

    /// More electrons never give a lower code, codes are whole and within the converter's range,
    /// and a draw takes as many words of noise whatever it is of.
    #[test]
    fn codes_grow_with_electrons(
        seed in any::<u64>(),
        (low_e, more_e) in (30.0..20_000.0f64, 0.0..20_000.0f64),
        (codes_per_e, read_noise_e) in (0.02..4.0f64, 0.0..30.0f64),
        full_well_e in 1000.0..30_000.0f64,
        (black_code, shot_noise) in (0u32..300, any::<bool>()),
    ) {
        let highest_code = 4095.0;
        let black_code = f64::from(black_code);
        let read_out = ReadOut {
            codes_per_e, black_code, highest_code, read_noise_e, full_well_e, shot_noise,
        };
        let draw = |mean_e: f64| {
            let mut noise = Seed::new(seed).stream("codes", 0, 0);
            (read_out.draw(mean_e, &mut noise), noise.bits())
        };
        let ((low, next), (high, other)) = (draw(low_e), draw(low_e + more_e));
        prop_assert!(low <= high, "{low} {high}");
        prop_assert_eq!(next, other);
        prop_assert_eq!(draw(0.0).1, next);
        prop_assert!(low.fract() == 0.0 && low >= 0.0 && high <= highest_code);
    }

    /// What a filter keeps out is made up from codes that are there: no channel is beyond the
    /// least and the greatest of them, and a pixel's own is as it was.
    #[test]
    fn a_mosaic_adds_nothing(
        mosaic in prop::sample::select(
            vec![Mosaic::Rggb, Mosaic::Bggr, Mosaic::Grbg, Mosaic::Gbrg],
        ),
        (width, height) in (2usize..9, 2usize..9),
        codes in prop::collection::vec(any::<u16>(), 64),
    ) {
        let codes = codes[..width * height].to_vec();
        let range = codes.iter().min().copied()..=codes.iter().max().copied();
        let raw = Raw { mosaic, width, height, codes };
        for at in 0..width * height {
            let (row, column) = (at / width, at % width);
            let rgb = raw.rgb(row, column);
            prop_assert!(rgb.iter().all(|code| range.contains(&Some(*code))));
            let own = channel_at(mosaic, row, column).map(|channel| rgb[channel]);
            prop_assert_eq!(own, Some(raw.codes[at]));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, failure_persistence: None, ..ProptestConfig::default() })]

    /// Below saturation two lamps together give what each gives by itself, and a share of their
    /// flux that share of it, but for the rounding of codes.
    #[test]
    fn light_adds_up(fluxes_lm in prop::array::uniform2(300.0..2000.0f64), share in 0.2..1.0f64) {
        let [one_lm, other_lm] = fluxes_lm;
        let both = two_lamps(fluxes_lm, |_| ());
        let view = trace(&both, 0);
        let of = |fluxes_lm: [f64; 2]| taken(&view, &two_lamps(fluxes_lm, |_| ()), 1, 0);
        let (both, one, other) = (of(fluxes_lm), of([one_lm, 0.0]), of([0.0, other_lm]));
        let summed = one.raw.codes.iter().zip(&other.raw.codes);
        let summed = summed.map(|(a, b)| f64::from(*a) + f64::from(*b));
        let mut seen = 0;
        let unsaturated = |(code, _): &(&u16, f64)| **code < FULL_CODE;
        for (code, sum) in both.raw.codes.iter().zip(summed).filter(unsaturated) {
            prop_assert!((f64::from(*code) - sum).abs() <= 1.0, "{code} of {sum}");
            seen += usize::from(sum > 20.0);
        }
        prop_assert!(seen > 100, "{seen}");
        let dimmed = of(fluxes_lm.map(|flux_lm| share * flux_lm));
        for (code, less) in pairs(&both, &dimmed) {
            prop_assert!((share * code - less).abs() < 0.5 + 0.5 * share + 1e-6, "{code} {less}");
        }
    }

    /// In which order lamps stand in the scene is nothing to the picture, but for rounding.
    #[test]
    fn lamps_have_no_order(
        fluxes_lm in prop::array::uniform2(300.0..2000.0f64),
        off_mm in prop::array::uniform3(-60.0..60.0f64),
    ) {
        let points = |file: &mut SceneFile| {
            file.lamps.iter_mut().for_each(|lamp| lamp.shape = LampShape::Point);
            (0..3).for_each(|k| file.lamps[1].position_mm[k] += off_mm[k]);
        };
        let drawn = two_lamps(fluxes_lm, points);
        let swapped = two_lamps(fluxes_lm, |file| {
            points(file);
            file.lamps.reverse();
        });
        let [a, b] = [&drawn, &swapped].map(|scene| taken(&trace(scene, 0), scene, 1, 0));
        for (code, other) in pairs(&a, &b) {
            prop_assert!((code - other).abs() <= 1.0, "{code} {other}");
        }
    }

    /// The same shot is the same picture to the last bit, traced anew or not; another trial has
    /// other noise.
    #[test]
    fn a_shot_can_be_repeated(seed in any::<u64>(), trial in 0u64..1000) {
        let scene = two_lamps([800.0, 400.0], |file| {
            let camera = &mut file.cameras[0];
            (camera.shot_noise, camera.read_noise_e) = (true, 6.0);
        });
        let view = trace(&scene, 0);
        let first = taken(&view, &scene, seed, trial);
        prop_assert!(first == taken(&view, &scene, seed, trial), "exposed again");
        prop_assert!(first == taken(&trace(&scene, 0), &scene, seed, trial), "traced again");
        prop_assert!(first.raw != taken(&view, &scene, seed, trial + 1).raw, "another trial");
    }

    /// A view lit anew by a lamp that was moved and turned up is the view traced anew.
    #[test]
    fn lighting_anew_is_tracing_anew(
        lamp in 1usize..3,
        off_mm in prop::array::uniform3(-40.0..40.0f64),
        times in 0.2..3.0f64,
    ) {
        let drawn = foyer();
        let mut file = drawn.file().clone();
        small(&mut file, 1);
        let before = drawn.with_file(file.clone()).unwrap();
        (0..3).for_each(|k| file.lamps[lamp].position_mm[k] += off_mm[k]);
        file.lamps[lamp].flux_lm *= times;
        let after = drawn.with_file(file).unwrap();
        let mut kept = trace(&before, 1);
        kept.relight(&after, &[lamp]);
        let (kept, anew) = (taken(&kept, &after, 1, 0), taken(&trace(&after, 1), &after, 1, 0));
        prop_assert!(kept == anew, "lamp {lamp}");
    }
}
