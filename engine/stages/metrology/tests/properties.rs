//! What was put into pictures and logs comes out of them, in whatever order they are given.

use core::f64::consts::{FRAC_PI_4, PI, TAU};
use std::sync::LazyLock;

use dryturn_geometry::{DVec2, DVec3, Distortion, Lens, Pose, rotation};
use dryturn_handoff::AxisLog;
use dryturn_metrology::block::{with_mount, written};
use dryturn_metrology::board::Board;
use dryturn_metrology::lens::{LensFit, Unknown, Wanted, fit_lens};
use dryturn_metrology::motor::{Identified, Parameter, axis_log, identify};
use dryturn_metrology::mount::{ClickedPoint, cube_corners, fit_mount};
use dryturn_metrology::sensor::{Pair, RawPicture, fit_sensor};
use dryturn_scene::Scene;
use dryturn_scene::file::Camera;
use dryturn_units::noise::Seed;
use dryturn_units::{degrees, maths, radians};
use proptest::prelude::*;

static SCENE: LazyLock<Scene> = LazyLock::new(|| {
    let text = include_str!("../../../../scenes/workbench.ron");
    Scene::parse(text, "workbench.ron").unwrap()
});

/// The numbers below `count` in any order.
fn order(count: usize) -> impl Strategy<Value = Vec<usize>> {
    Just((0..count).collect::<Vec<usize>>()).prop_shuffle()
}

fn vector(most: f64) -> impl Strategy<Value = DVec3> {
    prop::array::uniform3(-most..most).prop_map(DVec3::from_array)
}

/// The cube's eight corners through the first camera's lens.
fn clicks(pose: &Pose, click_px: f64, seed: u64) -> Vec<ClickedPoint> {
    let mut noise = Seed::new(seed).stream("clicks", 0, 0);
    let point = |(name, world): (&str, DVec3)| {
        let pixel = SCENE.views()[0].lens.project(pose.to_camera(world)).unwrap();
        let off = DVec2::new(noise.gaussian(), noise.gaussian()) * click_px;
        ClickedPoint { name: name.to_owned(), world, pixel: pixel + off }
    };
    cube_corners(SCENE.file().cube.edge_mm).map(point).collect()
}

fn lenses() -> impl Strategy<Value = Lens> {
    let centre = (-8.0..8.0f64, -8.0..8.0f64);
    let lens = |(focal_px, (x, y), k1, k2): (f64, (f64, f64), f64, f64)| Lens {
        focal_px: DVec2::splat(focal_px),
        centre_px: DVec2::new(319.5 + x, 239.5 + y),
        distortion: Distortion { k1, k2, ..Distortion::default() },
    };
    (650.0..850.0f64, centre, -0.3..-0.05f64, 0.01..0.1f64).prop_map(lens)
}

const TILTS_DEG: [[f64; 2]; 8] = [
    [30.0, 0.0],
    [-30.0, 0.0],
    [0.0, 30.0],
    [0.0, -30.0],
    [20.0, 25.0],
    [-25.0, 20.0],
    [25.0, -20.0],
    [-20.0, -25.0],
];

fn board() -> Board {
    Board::new(9, 6, 18.0).unwrap()
}

/// The board's corners in a picture for each tilt.
fn boards(lens: &Lens, off_px: f64, seed: u64) -> Vec<Vec<DVec2>> {
    let mut noise = Seed::new(seed).stream("boards", 0, 0);
    let picture = |(k, [a, b]): (usize, [f64; 2])| -> Vec<DVec2> {
        let turn = rotation(DVec3::X * radians(a)) * rotation(DVec3::Y * radians(b));
        let shift = DVec3::new(40.0 * (k % 3) as f64 - 40.0, 25.0 * (k / 3) as f64 - 25.0, 260.0);
        let corner = |point: DVec3| {
            let off = DVec2::new(noise.gaussian(), noise.gaussian()) * off_px;
            lens.project(turn * point + shift).unwrap() + off
        };
        board().points().into_iter().map(corner).collect()
    };
    TILTS_DEG.into_iter().enumerate().map(picture).collect()
}

fn lens_of(pictures: &[Vec<DVec2>]) -> LensFit {
    fit_lens(&board(), pictures, [640, 480], 985.0, Wanted::default()).unwrap()
}

/// Pairs of flat pictures by the linear model of EMVA 1288 (Release 4.0; from memory): 4 electrons
/// of dark noise, and no light at code 64 and `more`.
fn flats(codes_per_e: f64, more: u16, seed: u64) -> Vec<Pair> {
    let picture = |light_e: f64, index: u64| {
        let mut noise = Seed::new(seed).stream("flats", 0, index);
        let mut code = || {
            let electrons = light_e + light_e.sqrt() * noise.gaussian() + 4.0 * noise.gaussian();
            (codes_per_e * electrons + 64.0).round() as u16 + more
        };
        let codes = (0..64 * 64).map(|_| code()).collect();
        RawPicture { name: format!("{index}.png"), width: 64, height: 64, codes }
    };
    let pair = |k: u32| {
        let (light_ratio, index) = (400.0 * f64::from(k), 2 * u64::from(k));
        let pictures = [picture(light_ratio, index), picture(light_ratio, index + 1)];
        Pair { light_ratio, pictures }
    };
    (0..6).map(pair).collect()
}

/// Six quarter turns of 40 ms along half a cosine, at 2 kHz, with the current that inertia and
/// friction take, and the drawn viscous friction and pull to the stops.
fn quarter_turns(inertia_kg_m2: f64, coulomb_n_m: f64) -> AxisLog {
    const STEP_S: f64 = 5e-4;
    const REST: usize = 40;
    const MOVING: usize = 80;
    let drive = &SCENE.file().drive;
    let constant_n_m_per_a = 60.0 / (TAU * drive.speed_constant_rpm_per_v);
    let mut log = AxisLog { current_a: Some(Vec::new()), ..AxisLog::default() };
    for k in 0..6 * (REST + MOVING) + REST {
        let (turn, within) = (k / (REST + MOVING), k % (REST + MOVING));
        let phase = PI * within.saturating_sub(REST) as f64 / MOVING as f64;
        let angle = FRAC_PI_4 * (2.0 * turn as f64 + 1.0 - maths::cos(phase));
        let per_s = PI / (MOVING as f64 * STEP_S);
        let speed = FRAC_PI_4 * per_s * maths::sin(phase);
        let rate = FRAC_PI_4 * per_s * per_s * maths::cos(phase);
        let pull = drive.detent_torque_n_m * maths::sin(4.0 * angle);
        let rubbing = coulomb_n_m + drive.viscous_friction_n_m_s * speed;
        let torque = if phase > 0.0 { inertia_kg_m2 * rate + rubbing + pull } else { 0.0 };
        log.time_s.push(k as f64 * STEP_S);
        log.angle_deg.push(degrees(angle));
        log.current_a.iter_mut().for_each(|list| list.push(torque / constant_n_m_per_a));
    }
    log
}

/// What a log says once it has been written and read.
fn identified(log: &AxisLog) -> Identified {
    let log = axis_log(&log.csv(), &SCENE.file().drive).unwrap();
    identify(&[log], SCENE.file(), Some(2)).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    /// A mount that is off comes back, and so does the camera that is written of it: where it
    /// stands by its block it sees the same, to a thirtieth of a pixel.
    #[test]
    fn mounts_come_back(shift_mm in vector(6.0), turn_deg in vector(3.0)) {
        let view = SCENE.views()[0];
        let pose = view.pose.disturbed(shift_mm, turn_deg * radians(1.0));
        let points = clicks(&pose, 0.0, 1);
        let fit = fit_mount(&view, &points, 1.0).unwrap();
        prop_assert!((fit.shift_mm - shift_mm).length() < 1e-5, "{fit:?}");
        prop_assert!((fit.turn_deg - turn_deg).length() < 1e-5, "{fit:?}");
        prop_assert_eq!(fit.objection(1.0, [640, 480]), None);
        let camera = with_mount(&SCENE.file().cameras[0], &fit);
        let again: Camera = ron::from_str(&written(&camera, &["a note".to_owned()])).unwrap();
        prop_assert_eq!(&again, &camera);
        let [position, aim, up] =
            [again.position_mm, again.aim_mm, again.up_ratio].map(DVec3::from_array);
        let stands = Pose::look_at(position, aim, up).unwrap();
        for point in &points {
            let seen = view.lens.project(stands.to_camera(point.world)).unwrap();
            prop_assert!((seen - point.pixel).length() < 0.03, "{seen} {point:?}");
        }
    }

    /// In which order corners were clicked is nothing to the mount.
    #[test]
    fn clicks_have_no_order(seed in any::<u64>(), order in order(8)) {
        let view = SCENE.views()[0];
        let points = clicks(&view.pose, 0.7, seed);
        let other: Vec<ClickedPoint> = order.iter().map(|&k| points[k].clone()).collect();
        let [fit, other] = [points, other].map(|points| fit_mount(&view, &points, 0.5).unwrap());
        prop_assert!((fit.shift_mm - other.shift_mm).length() < 1e-5);
        prop_assert!((fit.turn_deg - other.turn_deg).length() < 1e-5);
        prop_assert!((fit.shift_error_mm - other.shift_error_mm).length() < 1e-5);
        for (&k, residual) in order.iter().zip(&other.residual_px) {
            prop_assert!((fit.residual_px[k] - residual).abs() < 1e-5);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, failure_persistence: None, ..ProptestConfig::default() })]

    /// The lens that made the pictures is found, and in which order they come is nothing to it.
    #[test]
    fn lenses_come_back(lens in lenses(), seed in any::<u64>(), order in order(TILTS_DEG.len())) {
        let exact = lens_of(&boards(&lens, 0.0, seed));
        prop_assert!(exact.rms_px < 1e-5, "{}", exact.rms_px);
        for unknown in [Unknown::Focal, Unknown::CentreColumn, Unknown::CentreRow, Unknown::K1] {
            let (found, wanted) = (unknown.of(&exact.lens), unknown.of(&lens));
            prop_assert!((found - wanted).abs() < 1e-3, "{unknown:?}: {found} for {wanted}");
        }
        let pictures = boards(&lens, 0.1, seed);
        let shuffled: Vec<Vec<DVec2>> = order.iter().map(|&k| pictures[k].clone()).collect();
        let (one, other) = (lens_of(&pictures), lens_of(&shuffled));
        prop_assert_eq!(one.found.len(), other.found.len());
        for (a, b) in one.found.iter().zip(&other.found) {
            prop_assert!((a.value - b.value).abs() < 1e-3 * a.error, "{a:?} {b:?}");
        }
        for (&k, rms_px) in order.iter().zip(&other.rms_by_picture_px) {
            prop_assert!((one.rms_by_picture_px[k] - rms_px).abs() < 1e-5);
        }
    }

    /// A gain comes back within six of its standard errors. Which pair came first, and which
    /// picture of it, is nothing to it; a higher black level is that and nothing else.
    #[test]
    fn sensors_come_back(
        seed in any::<u64>(), codes_per_e in 0.3..0.6f64, more in 1u16..900, order in order(6),
    ) {
        let pairs = flats(codes_per_e, 0, seed);
        let fit = fit_sensor(&pairs, 12, false).unwrap();
        let (gain, error) = fit.codes_per_e;
        prop_assert!((gain - codes_per_e).abs() < 6.0 * error, "{gain} ± {error}");
        let mut shuffled: Vec<Pair> = order.iter().map(|&k| pairs[k].clone()).collect();
        shuffled.iter_mut().for_each(|pair| pair.pictures.reverse());
        prop_assert_eq!(&fit_sensor(&shuffled, 12, false).unwrap(), &fit);
        let raised = fit_sensor(&flats(codes_per_e, more, seed), 12, false).unwrap();
        prop_assert!((raised.black_code - fit.black_code - f64::from(more)).abs() < 1e-6);
        prop_assert!((raised.codes_per_e.0 / gain - 1.0).abs() < 1e-6);
    }

    /// An axis comes back, to 3 % of its inertia and 5 % of its friction. Which way it turns, and
    /// at which stop it starts, is nothing to either.
    #[test]
    fn axes_come_back(
        inertia in 7e-5..1.2e-4f64,
        coulomb in 0.09..0.16f64,
        quarters in -4i32..5,
        backwards in any::<bool>(),
    ) {
        let mut log = quarter_turns(inertia, coulomb);
        let one = identified(&log);
        let found = one.value(Parameter::Inertia).unwrap();
        prop_assert!((found / inertia - 1.0).abs() < 0.03, "{found} for {inertia}");
        let [speed, friction] = one.friction_at;
        let wanted = coulomb + SCENE.file().drive.viscous_friction_n_m_s * speed;
        prop_assert!((friction / wanted - 1.0).abs() < 0.05, "{friction} for {wanted}");
        let (sign, start_deg) = (if backwards { -1.0 } else { 1.0 }, 90.0 * f64::from(quarters));
        log.angle_deg.iter_mut().for_each(|angle| *angle = sign * *angle + start_deg);
        log.current_a.iter_mut().flatten().for_each(|current| *current *= sign);
        let other = identified(&log);
        let again = other.value(Parameter::Inertia).unwrap();
        prop_assert!((again / found - 1.0).abs() < 2e-3, "{again} {found}");
        prop_assert!((other.friction_at[1] / friction - 1.0).abs() < 2e-3);
    }
}
