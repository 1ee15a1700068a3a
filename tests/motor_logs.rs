//! The commands `identify` and `overlay`: logs of real axes. The real axes are the
//! simulator's, with errors and noise, whose figures are known.

mod overlaid;
mod refused;
mod slow;

use std::path::Path;

use dryturn_cube::Face;
use dryturn_driving::{Bench, BenchLog, BenchMove, LogNoise};
use dryturn_metrology::motor::{Identified, LimitKind, Parameter, axis_log, identify};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use serde_json::{Value as Json, json};

use crate::help;

/// Beside the encoder's own steps and non-linearity.
pub(crate) const NOISE: LogNoise =
    LogNoise { angle_sigma_deg: 0.02, speed_sigma_rad_s: 0.3, current_sigma_a: 0.03 };

fn scene(preset: &str) -> Scene {
    help::scene("workbench").with("drive.preset", json!(preset)).unwrap()
}

fn to(quarters: f64, speed_share: f64, torque_share: f64) -> BenchMove {
    BenchMove { quarters, speed_share, torque_share }
}

/// Quarter turns there and half turns back at four speeds, and one more to be kept out.
fn several() -> Vec<BenchMove> {
    let pairs = [1.0, 0.7, 0.45, 0.25].into_iter();
    let pairs = pairs.flat_map(|share| [to(1.0, share, 0.7), to(-2.0, share, 0.7)]);
    pairs.chain([to(1.0, 0.6, 0.7)]).collect()
}

fn bench(scene: &Scene, seed: u64, trial: u64) -> Bench {
    Bench::of(scene, Seed::new(seed).trial(trial), Face::R)
}

/// Through CSV, as a file would be.
fn identified(scene: &Scene, logs: &[&BenchLog]) -> Identified {
    let drive = &scene.file().drive;
    let logs: Vec<_> = logs.iter().map(|made| axis_log(&made.log.csv(), drive).unwrap()).collect();
    identify(&logs, scene.file(), None).unwrap()
}

/// Found over true: inertia and Coulomb friction, both over the torque constant, friction
/// as it was in the moves of the fit.
fn ratios(found: &Identified, made: &BenchLog) -> [f64; 2] {
    let scale = found.constant_n_m_per_a / made.constant_n_m_per_a;
    let fitted = &made.friction_n_m[..made.friction_n_m.len() - 1];
    let friction = fitted.iter().sum::<f64>() / fitted.len() as f64;
    let value = |parameter| found.value(parameter).expect("determined");
    [
        value(Parameter::Inertia) / (made.inertia_kg_m2 * scale),
        value(Parameter::Coulomb) / (friction * scale),
    ]
}

/// Inertia and Coulomb friction come back within 5 % from noisy logs at several speeds, and
/// a move that was kept out is predicted: two presets, two seeds, three rigs each.
#[test]
fn inertia_and_friction_come_back() {
    for preset in ["TorqueFollowsBus", "SpeedLimited"] {
        let scene = scene(preset);
        for (seed, trial) in (1..3).flat_map(|seed| (0..3).map(move |trial| (seed, trial))) {
            let made = bench(&scene, seed, trial).moves(&several(), NOISE).unwrap();
            let found = identified(&scene, &[&made]);
            let [inertia, friction] = ratios(&found, &made);
            let said = format!("{preset}, seed {seed}, trial {trial}: {inertia} {friction}");
            assert!((inertia - 1.0).abs() < 0.05 && (friction - 1.0).abs() < 0.05, "{said}");
            assert!(found.held_out.accepted(), "{said}: {:?}", found.held_out.angle_off_share);
            assert!(found.condition_ratio < 30.0, "{said}");
        }
    }
}

/// Of 95 % intervals over 120 logs, each of a rig of its own, 85 to 100 % hold what is true,
/// and standard errors are neither far too wide nor too narrow.
#[test]
fn intervals_hold_what_is_true() {
    let scene = scene("TorqueFollowsBus");
    let (mut held, mut squares, mut accepted) = ([0; 2], [0.0; 2], 0);
    let logs = 120;
    for trial in 0..logs {
        let made = bench(&scene, 5, trial).moves(&several(), NOISE).unwrap();
        let found = identify(std::slice::from_ref(&made.log), scene.file(), None).unwrap();
        accepted += u32::from(found.held_out.accepted());
        let both = [Parameter::Inertia, Parameter::Coulomb];
        for (k, (ratio, parameter)) in ratios(&found, &made).into_iter().zip(both).enumerate() {
            let own = found.estimate(parameter).unwrap();
            let (truth, [low, high]) = (own.value / ratio, own.interval.unwrap());
            held[k] += u32::from((low..=high).contains(&truth));
            squares[k] += ((own.value - truth) / own.error.unwrap()).powi(2);
        }
    }
    let rms = squares.map(|sum| (sum / logs as f64).sqrt());
    let share = held.map(|held| f64::from(held) / logs as f64);
    assert!(share.iter().all(|share| *share >= 0.85), "{share:?}");
    assert!(rms.iter().all(|rms| (0.4..1.6).contains(rms)), "{rms:?}");
    assert!(accepted >= 114, "{accepted} moves that were kept out are predicted");
}

/// A drive whose viscous friction is plain to see: it comes back; from one speed it is
/// refused, and the friction then found is the sum at that speed.
#[test]
fn one_speed_does_not_tell_viscous_friction() {
    let scene = scene("SpeedLimited").with("drive.viscous_friction_n_m_s", json!(0.002)).unwrap();
    let made = bench(&scene, 1, 0).moves(&several(), NOISE).unwrap();
    let found = identified(&scene, &[&made]);
    let viscous = found.value(Parameter::Viscous).expect("several speeds tell it");
    assert!((viscous / 0.002 - 1.0).abs() < 0.2, "{viscous}");
    let made = bench(&scene, 1, 0).moves(&[to(1.0, 0.8, 0.7); 8], NOISE).unwrap();
    let found = identified(&scene, &[&made]);
    assert_eq!(found.value(Parameter::Viscous), None);
    let why = found.estimate(Parameter::Viscous).unwrap().open.clone().unwrap();
    assert!(why.contains("nearly one top speed") && why.contains("several speeds"), "{why}");
    assert!(found.fields.iter().all(|field| field.name != "viscous_friction_n_m_s"));
    let scale = found.constant_n_m_per_a / made.constant_n_m_per_a;
    let mean = made.friction_n_m.iter().sum::<f64>() / made.friction_n_m.len() as f64;
    let [speed, friction] = found.friction_at;
    let sum = scale * (mean + 0.002 * speed);
    assert!((friction / sum - 1.0).abs() < 0.05, "{friction} {sum}");
}

/// The torque limit is told where the current stands at it, and only there.
#[test]
fn a_limit_that_is_not_reached_is_not_told() {
    let scene = scene("TorqueFollowsBus");
    let gentle = bench(&scene, 1, 0).moves(&several(), NOISE).unwrap();
    let found = identified(&scene, &[&gentle]);
    let limit = found.limit(LimitKind::Torque).unwrap();
    assert_eq!(limit.reached, None);
    assert!(limit.because.contains("not reached in this log"), "{}", limit.because);
    let speed = found.limit(LimitKind::Speed).unwrap();
    assert_eq!(speed.reached, None);
    let hard = [to(1.0, 1.0, 1.0), to(-2.0, 1.0, 1.0), to(1.0, 0.6, 1.0), to(-1.0, 0.4, 1.0)];
    let made = bench(&scene, 1, 0).moves(&hard, NOISE).unwrap();
    let found = identified(&scene, &[&made]);
    let scale = found.constant_n_m_per_a / made.constant_n_m_per_a;
    let reached = found.limit(LimitKind::Torque).unwrap().reached.expect("the current stands flat");
    assert!((reached / (made.limit_n_m * scale) - 1.0).abs() < 0.02, "{reached}");
    // A profile with a top speed stays there; so does a command that asks for no more.
    let scene = self::scene("ProfileLimited");
    let made = bench(&scene, 1, 0).moves(&[to(2.0, 1.0, 0.9), to(-2.0, 1.0, 0.9)], NOISE).unwrap();
    let found = identified(&scene, &[&made]);
    let limit = scene.file().drive.speed_limit_rad_s;
    let speed = found.limit(LimitKind::Speed).unwrap();
    assert!((speed.largest / limit - 1.0).abs() < 0.03, "{} {limit}", speed.largest);
    let commanded =
        bench(&scene, 1, 0).moves(&[to(2.0, 0.5, 0.5), to(-2.0, 0.5, 0.5)], NOISE).unwrap();
    for found in [&found, &identified(&scene, &[&commanded])] {
        for kind in [LimitKind::Speed, LimitKind::Acceleration] {
            let level = found.limit(kind).unwrap();
            assert_eq!(level.reached, None, "{level:?}");
        }
        let because = &found.limit(LimitKind::Speed).unwrap().because;
        assert!(because.contains("fastest level seen only"), "{because}");
        let limits = ["speed_limit_rad_s", "acceleration_limit_rad_s2"];
        assert!(found.fields.iter().all(|field| !limits.contains(&field.name)));
    }
}

/// Without currents only ratios are told, from a coasting axis; nothing goes into the scene.
#[test]
fn a_coasting_axis_tells_ratios_only() {
    let scene = scene("TorqueFollowsBus");
    let speeds = [0.6, 0.7, 0.8, 0.9, 1.0];
    let spun = |share: &f64| bench(&scene, 1, 0).coasting(&to(2.0, *share, 0.85), NOISE).unwrap();
    let logs: Vec<BenchLog> = speeds.iter().map(spun).collect();
    let found = identified(&scene, &logs.iter().collect::<Vec<_>>());
    assert!(found.over_inertia && found.estimate(Parameter::Inertia).is_none());
    assert!(found.fields.is_empty() && found.limits.is_empty());
    let ratio = logs[0].friction_n_m[0] / logs[0].inertia_kg_m2;
    let coulomb = found.value(Parameter::Coulomb).unwrap();
    assert!((coulomb / ratio - 1.0).abs() < 0.06, "{coulomb} {ratio}");
}

/// What is written goes into the scene, whose simulated axis then has the measured totals:
/// identified again, it gives the same figures.
#[test]
fn the_block_gives_the_axis_that_was_measured() {
    let real = scene("TorqueFollowsBus")
        .with("drive.friction_torque_n_m", json!(0.1))
        .unwrap()
        .with("drive.rotor_inertia_kg_m2", json!(9e-5))
        .unwrap()
        .with("cube.tension_ratio", json!(1.2))
        .unwrap();
    let drawn = scene("TorqueFollowsBus").with("cube.tension_ratio", json!(1.2)).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("drawn.ron"), drawn.to_ron()).unwrap();
    let log = bench(&real, 3, 0).moves(&several(), NOISE).unwrap();
    std::fs::write(at.join("r.csv"), log.log.csv()).unwrap();
    let call = help::call(at, &["identify", "drawn.ron", "r.csv", "--json", "--out", "found"]);
    let found = document(&call);
    let block = std::fs::read_to_string(at.join("found/drive.ron")).unwrap();
    assert_eq!(block, found["block"].as_str().unwrap());
    assert!(at.join("found/identify.html").is_file());
    let mut measured = drawn;
    for line in block.lines().filter(|line| line.starts_with("    ")) {
        let (name, value) = line.trim().trim_end_matches(',').split_once(": ").unwrap();
        measured = measured.with_text(&format!("drive.{name}"), value).unwrap();
    }
    let drive = &measured.file().drive;
    // The drawing's totals, tension and bearings included, are what was found.
    let estimate = |key: &str| found["estimates"][key]["value"].as_f64().unwrap();
    let axis = dryturn_driving::Axis::of(measured.file()).limit;
    assert!((axis.inertia_kg_m2 / estimate("inertia_kg_m2") - 1.0).abs() < 1e-3);
    let total = axis.friction_n_m + drive.bearing_friction_n_m;
    assert!((total / estimate("coulomb_n_m") - 1.0).abs() < 1e-3, "{block}");
    // In words: every figure with its verdict, the torque constant, the next steps.
    let call = help::call(at, &["identify", "drawn.ron", "r.csv", "--held-out", "2"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    for said in
        ["inertia of all that turns: ", "drawn torque constant", "move 2, kept out", "drive: ("]
    {
        assert!(call.stdout.contains(said), "{said}: {}", call.stdout);
    }
}

pub(crate) fn document(call: &help::Call) -> Json {
    assert_eq!(call.code, 0, "{}", call.stderr);
    serde_json::from_str(&call.stdout).unwrap()
}

/// Two logs are fitted together, the moves counted over both; the same files give the same
/// bytes.
#[test]
fn logs_are_fitted_together() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = scene("TorqueFollowsBus");
    std::fs::write(at.join("w.ron"), scene.to_ron()).unwrap();
    for (name, trial) in [("a.csv", 0), ("b.csv", 0)] {
        let moves = if name == "a.csv" { several() } else { several()[..4].to_vec() };
        write(at, name, &bench(&scene, 1, trial).moves(&moves, NOISE).unwrap());
    }
    let once = help::call(at, &["identify", "w.ron", "a.csv", "b.csv", "--json"]);
    let found = document(&once);
    assert_eq!(found["moves"].as_array().unwrap().len(), 13);
    assert_eq!(found["moves"][12]["log"], 2);
    assert_eq!(found["held_out"]["number"], 13);
    let again = help::call(at, &["identify", "w.ron", "a.csv", "b.csv", "--json"]);
    assert_eq!(once.stdout, again.stdout);
}

fn write(at: &Path, name: &str, made: &BenchLog) {
    std::fs::write(at.join(name), made.log.csv()).unwrap();
}
