//! What light, exposure and mounts must do to a frame, whatever the figures.

mod lab;

use dryturn_cube::{CubeState, Stickering};
use dryturn_handoff::Frame;
use dryturn_optics::{AsBuilt, LitView, Shot};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use lab::foyer;
use serde_json::json;

/// Without noise, spread or mount error, and small pictures.
fn scene(changes: &[(&str, serde_json::Value)]) -> Scene {
    let text = include_str!("../../../../scenes/workbench.ron");
    let exact = [
        ("tolerances.mount_shift_sigma_mm", json!(0)),
        ("tolerances.mount_turn_sigma_deg", json!(0)),
        ("tolerances.facelet_brightness_sigma_share", json!(0)),
        ("tolerances.facelet_tint_sigma_share", json!(0)),
        ("cameras.high.read_noise_e", json!(0)),
        ("cameras.high.full_well_e", json!(1_000_000)),
        ("cameras.high.gain_ratio", json!(30)),
        ("cameras.high.f_number_ratio", json!(4)),
        ("cameras.high.white_balance", json!("Fixed")),
        ("cameras.high.colour_matrix_red_ratio", json!([1, 0, 0])),
        ("cameras.high.colour_matrix_green_ratio", json!([0, 1, 0])),
        ("cameras.high.colour_matrix_blue_ratio", json!([0, 0, 1])),
        ("cameras.high.white_balance_red_ratio", json!(1)),
        ("cameras.high.white_balance_blue_ratio", json!(1)),
        ("surroundings.ambient_lux", json!(100)),
        ("cameras.high.width_px", json!(320)),
        ("cameras.high.height_px", json!(240)),
    ];
    let scene = Scene::parse(text, "workbench.ron").unwrap();
    exact
        .iter()
        .chain(changes)
        .fold(scene, |scene, (path, value)| scene.with(path, value.clone()).unwrap())
}

fn photograph(scene: &Scene) -> Frame {
    let built = AsBuilt::draw(scene, Seed::new(1), 0);
    let shot = Shot { seed: Seed::new(1), name: "test", trial: 0, second: false };
    let solved = Stickering::from(&CubeState::SOLVED);
    LitView::trace(scene, &built, 0).expose(scene, &built, &solved, shot)
}

/// Mean linear light of the middle of the picture.
fn light(frame: &Frame) -> [f64; 3] {
    let mut sum = [0.0; 3];
    let (rows, columns) = (frame.height / 3..frame.height / 2, frame.width / 3..frame.width / 2);
    let mut count = 0.0;
    for row in rows {
        for column in columns.clone() {
            let linear = frame.pixel(row * frame.width + column).decode().0;
            (0..3).for_each(|c| sum[c] += linear[c]);
            count += 1.0;
        }
    }
    sum.map(|s| s / count)
}

fn ratio(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().sum::<f64>() / b.iter().sum::<f64>()
}

/// Light is proportional to exposure time, to the inverse square of the aperture
/// number, and to the lamps' flux.
#[test]
fn light_is_proportional_to_what_it_should_be() {
    let base = light(&photograph(&scene(&[("cameras.high.exposure_ms", json!(4))])));
    let twice = light(&photograph(&scene(&[("cameras.high.exposure_ms", json!(8))])));
    assert!((ratio(twice, base) - 2.0).abs() < 0.04, "{}", ratio(twice, base));
    let stopped = light(&photograph(&scene(&[
        ("cameras.high.exposure_ms", json!(8)),
        ("cameras.high.f_number_ratio", json!(8)),
    ])));
    assert!((ratio(stopped, twice) - 0.25).abs() < 0.02, "{}", ratio(stopped, twice));
    let dark_room =
        [("surroundings.ambient_lux", json!(0)), ("cameras.high.exposure_ms", json!(8))];
    let one = light(&photograph(&scene(&dark_room)));
    let bright = [&dark_room[..], &[("lamps.panel.flux_lm", json!(8000))]].concat();
    let two = light(&photograph(&scene(&bright)));
    assert!((ratio(two, one) - 2.0).abs() < 0.04, "{}", ratio(two, one));
}

/// A saturated sensor stays at its ceiling: balance comes after clipping.
#[test]
fn clipping_comes_before_the_white_balance() {
    let frame = photograph(&scene(&[
        ("cameras.high.exposure_ms", json!(1000)),
        ("cameras.high.full_well_e", json!(1000)),
        ("cameras.high.gain_ratio", json!(1)),
        ("cameras.high.white_balance_red_ratio", json!(0.5)),
    ]));
    let reddest = frame.pixels.chunks(3).map(|p| p[0]).max();
    // sRGB code of half the full scale (IEC 61966-2-1).
    assert_eq!(reddest, Some(188));
}

/// A warm lamp raises red over blue.
#[test]
fn colour_temperature_tells_in_the_frame() {
    let cool = light(&photograph(&scene(&[])));
    let warm = light(&photograph(&scene(&[
        ("lamps.panel.cct_k", json!(6500)),
        ("lamps.panel.spectrum", json!("Thermal")),
        ("lamps.panel.cct_k", json!(2700)),
    ])));
    assert!(warm[0] / warm[2] > 2.0 * cool[0] / cool[2], "{warm:?} {cool:?}");
}

/// No tolerance, no error; otherwise another pose for every trial, the same for
/// the same trial.
#[test]
fn mounts_are_off_by_what_the_tolerances_allow() {
    let exact = scene(&[]);
    assert_eq!(AsBuilt::draw(&exact, Seed::new(1), 0).views, exact.views());
    let loose = scene(&[
        ("tolerances.mount_shift_sigma_mm", json!(0.5)),
        ("tolerances.mount_turn_sigma_deg", json!(0.5)),
    ]);
    let built = |trial| AsBuilt::draw(&loose, Seed::new(1), trial).views;
    assert_eq!(built(3), built(3));
    assert_ne!(built(3), built(4));
    let shifts: Vec<f64> = (0..400)
        .map(|trial| built(trial)[0].pose.position.x - loose.views()[0].pose.position.x)
        .collect();
    let sigma = (shifts.iter().map(|s| s * s).sum::<f64>() / 400.0).sqrt();
    // Four standard errors of a standard deviation.
    assert!((sigma - 0.5).abs() < 4.0 * 0.5 / 800f64.sqrt(), "{sigma}");
}

/// What stands between lamp and cube takes its light away.
#[test]
fn shafts_cast_shadows() {
    let dark_room = ("surroundings.ambient_lux", json!(0));
    let above = ("lamps.panel.position_mm", json!([0.0, 700.0, 1.0]));
    let small = ("lamps.panel.width_mm", json!(5.0));
    let with = photograph(&scene(&[dark_room.clone(), above.clone(), small.clone()]));
    let without = photograph(&scene(&[dark_room, above, small, ("shafts.U.fitted", json!(false))]));
    // With the upper shaft and its motor in the way the upper face goes dark.
    assert!(ratio(light(&with), light(&without)) < 0.8);
}

/// A view lit anew by the lamp that has moved is the view traced anew.
#[test]
fn relighting_one_lamp_equals_tracing_all() {
    let before = [("cameras.low.width_px", 320), ("cameras.low.height_px", 240)]
        .into_iter()
        .fold(foyer(), |scene, (path, value)| scene.with(path, json!(value)).unwrap());
    let after = before.with("lamps.upper.position_mm", json!([-60, 260, 120])).unwrap();
    let built = AsBuilt::draw(&before, Seed::new(1), 0);
    let shot = Shot { seed: Seed::new(1), name: "test", trial: 0, second: false };
    let solved = Stickering::from(&CubeState::SOLVED);
    let mut kept = LitView::trace(&before, &built, 1);
    let old = kept.expose(&after, &built, &solved, shot);
    kept.relight(&after, &[1]);
    let new = LitView::trace(&after, &built, 1).expose(&after, &built, &solved, shot);
    assert!(old.pixels != new.pixels, "the lamp has moved");
    assert!(kept.expose(&after, &built, &solved, shot).pixels == new.pixels);
}
