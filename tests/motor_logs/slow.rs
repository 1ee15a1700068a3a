//! Slow logs: rigs of every preset, with samples 2, 5 and 10 ms apart. What is true is the
//! simulator's; the fit sees the log and the drawing.

use std::fmt::{self, Write as _};

use dryturn_cube::Face;
use dryturn_driving::{Bench, BenchLog};
use dryturn_handoff::AxisLog;
use dryturn_metrology::motor::{Identified, IdentifyError, Parameter, axis_log, identify};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use rayon::prelude::*;
use serde_json::json;

use super::{NOISE, several, to};
use crate::help;

const PRESETS: [&str; 5] =
    ["TorqueFollowsBus", "SpeedLimited", "WindingLine", "HighTorque", "ProfileLimited"];
/// How far samples are apart, ticks of 0.125 ms: 2, 5 and 10 ms.
const STRIDES: [usize; 3] = [16, 40, 80];

/// A drawing of its own for each trial, and a rig that is up to some tens of percent beside it.
fn rig(seed: u64, trial: u64) -> Scene {
    let mut noise = Seed::new(seed).stream("slow rigs", trial, 0);
    let preset = PRESETS[(trial % 5) as usize];
    // In the program, so that a large study runs anywhere.
    let text = include_str!("../../scenes/workbench.ron");
    let drawn = Scene::parse(text, "workbench.ron").unwrap();
    let scene = drawn.with("drive.preset", json!(preset)).unwrap();
    let low_v = if preset == "ProfileLimited" { 24.0 } else { 30.0 };
    let sets = [
        ("drive.bus_voltage_v", noise.between(low_v, 54.0)),
        (
            "drive.rotor_inertia_kg_m2",
            scene.file().drive.rotor_inertia_kg_m2 * noise.between(0.75, 1.4),
        ),
        ("drive.friction_torque_n_m", scene.file().friction_torque_n_m() * noise.between(0.7, 1.2)),
        ("tolerances.inertia_spread_sigma_share", 0.1),
        ("tolerances.tension_spread_sigma_share", 0.1),
    ];
    let first = scene.with(sets[0].0, json!(sets[0].1)).unwrap();
    sets[1..].iter().fold(first, |scene, (field, value)| scene.with(field, json!(value)).unwrap())
}

/// Every so many samples, from one on.
fn thinned(log: &AxisLog, stride: usize, from: usize) -> AxisLog {
    let pick =
        |list: &Vec<f64>| list.iter().skip(from).step_by(stride).copied().collect::<Vec<f64>>();
    AxisLog {
        time_s: pick(&log.time_s),
        angle_deg: pick(&log.angle_deg),
        speed_rad_s: log.speed_rad_s.as_ref().map(pick),
        current_a: log.current_a.as_ref().map(pick),
    }
}

/// What is true, over the torque constant as the drawing has it.
fn truths(scene: &Scene, made: &BenchLog, constant: f64) -> [f64; 4] {
    let drive = &scene.file().drive;
    let fitted = &made.friction_n_m[..made.friction_n_m.len() - 1];
    let friction = fitted.iter().sum::<f64>() / fitted.len() as f64;
    let all = [made.inertia_kg_m2, friction, drive.viscous_friction_n_m_s, drive.detent_torque_n_m];
    all.map(|value| value * constant / made.constant_n_m_per_a)
}

/// One rig's fit.
struct Fit {
    found: Identified,
    truths: [f64; 4],
}

fn fit(seed: u64, trial: u64, stride: usize) -> Fit {
    let scene = rig(seed, trial);
    let made =
        Bench::of(&scene, Seed::new(seed).trial(trial), Face::R).moves(&several(), NOISE).unwrap();
    let from = (trial as usize * 37 + 11) % stride;
    let csv = thinned(&made.log, stride, from).csv();
    let log = axis_log(&csv, &scene.file().drive).unwrap();
    let found = identify(&[log], scene.file(), None)
        .unwrap_or_else(|error| panic!("seed {seed}, rig {trial}: {error}"));
    let truths = truths(&scene, &made, found.constant_n_m_per_a);
    Fit { found, truths }
}

/// Of one parameter over many rigs.
#[derive(Default)]
struct Tally {
    told: usize,
    held: usize,
    open: usize,
    widths: Vec<f64>,
    offs: Vec<f64>,
}

impl Tally {
    fn of(fits: &[Fit], parameter: Parameter) -> Self {
        let mut tally = Self::default();
        for fit in fits {
            let own = fit.found.estimate(parameter).unwrap();
            let truth = fit.truths[parameter as usize];
            let (None, Some([low, high])) = (&own.open, own.interval) else {
                tally.open += 1;
                continue;
            };
            tally.told += 1;
            tally.held += usize::from((low..=high).contains(&truth));
            tally.widths.push(0.5 * (high - low) / truth);
            tally.offs.push((own.value / truth - 1.0).abs());
        }
        tally.widths.sort_by(f64::total_cmp);
        tally.offs.sort_by(f64::total_cmp);
        tally
    }

    fn median(list: &[f64]) -> f64 {
        list.get(list.len() / 2).map_or(f64::NAN, |value| 100.0 * value)
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} of {} hold, {} not determined, median half width {:.1} %, median error {:.1} %",
            self.held,
            self.told,
            self.open,
            Self::median(&self.widths),
            Self::median(&self.offs),
        )
    }
}

fn numbers(name: &str, usual: &str) -> Vec<u64> {
    let text = std::env::var(name).unwrap_or_else(|_| usual.to_owned());
    text.split(',').map(|number| number.trim().parse().expect("whole numbers")).collect()
}

/// Of 95 % intervals for each figure that is determined, 90 in 100 hold what is true at each
/// step, on rigs of all presets; and they are narrow enough to be of use. Small here;
/// `DRYTURN_SLOW_RIGS` (rigs) and `DRYTURN_SLOW_SEEDS` (a list) make the study large.
#[test]
fn intervals_of_slow_logs_hold_what_is_true() {
    let rigs = numbers("DRYTURN_SLOW_RIGS", "2")[0];
    let mut said = String::new();
    let mut good = true;
    for seed in numbers("DRYTURN_SLOW_SEEDS", "7") {
        for stride in STRIDES {
            let fits: Vec<Fit> =
                (0..rigs).into_par_iter().map(|trial| fit(seed, trial, stride)).collect();
            let accepted = fits.iter().filter(|fit| fit.found.held_out.accepted()).count();
            let ms = stride as f64 * 0.125;
            let _ = writeln!(
                said,
                "seed {seed}, {ms} ms: {accepted} of {rigs} kept-out moves accepted"
            );
            for parameter in Parameter::ALL {
                let tally = Tally::of(&fits, parameter);
                let _ = writeln!(said, "  {}: {tally}", parameter.words());
                // One of the few may fall outside.
                let allowed = (tally.told / 10).max(usize::from(rigs < 10));
                good &= tally.told - tally.held <= allowed;
                if parameter <= Parameter::Coulomb {
                    good &= tally.open * 10 <= rigs as usize;
                    good &= Tally::median(&tally.widths) <= 20.0;
                }
            }
            // A small study says so only of nearly all.
            good &= accepted * 10 + 10 >= rigs as usize * 9;
        }
    }
    println!("{said}");
    assert!(good, "{said}");
}

/// Coasts of one rig, spun up to several speeds, seen every so many ticks; the axis stands on
/// for a while afterwards. `None` where they are refused as too few samples or too short a way.
fn coasts(seed: u64, trial: u64, stride: usize) -> Option<Fit> {
    let scene = rig(seed, trial);
    let mut noise = Seed::new(seed).stream("slow coasts", trial, stride as u64);
    let speeds = [0.7, 0.8, 0.9, 1.0, 0.75, 0.85, 0.95, 1.0];
    let bench = Bench::of(&scene, Seed::new(seed).trial(trial), Face::R);
    let (mut logs, mut truths) = (Vec::new(), Vec::new());
    for (number, share) in speeds.into_iter().enumerate() {
        let sense = if number % 2 == 0 { 2.0 } else { -2.0 };
        let made = bench.coasting(&to(sense, share, 0.85), NOISE).unwrap();
        let mut log = made.log;
        let (last, rests) = (log.time_s.len() - 1, 30 * stride);
        let (end_s, end_deg) = (log.time_s[last], log.angle_deg[last]);
        for tick in 1..=rests {
            log.time_s.push(end_s + tick as f64 * 0.125e-3);
            log.angle_deg.push(end_deg + NOISE.angle_sigma_deg * noise.gaussian());
        }
        let csv = thinned(&log, stride, (number * 7 + trial as usize) % stride).csv();
        if let Ok(log) = axis_log(&csv, &scene.file().drive) {
            logs.push(log);
            truths.push(made.friction_n_m[0] / made.inertia_kg_m2);
        }
    }
    // The last one is kept out of the fit.
    truths.pop();
    let over = truths.iter().sum::<f64>() / truths.len().max(1) as f64;
    let found = match identify(&logs, scene.file(), None) {
        Ok(found) => found,
        Err(IdentifyError::TooSlow { .. } | IdentifyError::OneMove { .. }) => return None,
        Err(error) => panic!("seed {seed}, rig {trial}: {error}"),
    };
    let made = bench.moves(&several()[..1], NOISE).unwrap();
    let drive = &scene.file().drive;
    let rest = [drive.viscous_friction_n_m_s, drive.detent_torque_n_m];
    let rest = rest.map(|value| value / made.inertia_kg_m2);
    Some(Fit { found, truths: [1.0, over, rest[0], rest[1]] })
}

/// Slow logs of coasts tell friction over inertia: 95 % intervals hold what is true, at 2 and
/// 5 ms; what is too quick for its samples is refused. Large by the same variables.
#[test]
fn slow_coasts_tell_friction_over_inertia() {
    let rigs = numbers("DRYTURN_SLOW_RIGS", "5")[0];
    let mut said = String::new();
    let mut good = true;
    for seed in numbers("DRYTURN_SLOW_SEEDS", "7") {
        for stride in &STRIDES[..2] {
            let fits: Vec<Option<Fit>> =
                (0..rigs).into_par_iter().map(|trial| coasts(seed, trial, *stride)).collect();
            let fits: Vec<Fit> = fits.into_iter().flatten().collect();
            let accepted = fits.iter().filter(|fit| fit.found.held_out.accepted()).count();
            let (told, ms) = (fits.len(), *stride as f64 * 0.125);
            let _ = writeln!(
                said,
                "seed {seed}, {ms} ms: {told} of {rigs} rigs fitted, {accepted} kept-out coasts accepted"
            );
            for parameter in &Parameter::ALL[1..] {
                let tally = Tally::of(&fits, *parameter);
                let _ = writeln!(said, "  {}: {tally}", parameter.words());
                let allowed = (tally.told / 10).max(usize::from(rigs < 10));
                good &= tally.told - tally.held <= allowed;
                if *parameter == Parameter::Coulomb {
                    good &= tally.open * 10 <= told && Tally::median(&tally.widths) <= 20.0;
                }
            }
            good &= told > 0 && accepted * 10 + 10 >= told * 9;
        }
    }
    println!("{said}");
    assert!(good, "{said}");
}

/// A slow log says that it is one; what it does not tell is left to the drawing, with what
/// would tell it; the lines for the scene carry the usual cautions.
#[test]
fn a_slow_log_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = rig(7, 0);
    let made = Bench::of(&scene, Seed::new(7).trial(0), Face::R).moves(&several(), NOISE).unwrap();
    std::fs::write(at.join("drawn.ron"), scene.to_ron()).unwrap();
    std::fs::write(at.join("slow.csv"), thinned(&made.log, 40, 3).csv()).unwrap();
    let call = help::call(at, &["identify", "drawn.ron", "slow.csv", "--json", "--out", "found"]);
    let found = super::document(&call);
    assert!((found["slow"]["step_ms"].as_f64().unwrap() - 5.0).abs() < 1e-6);
    let viscous = &found["estimates"]["viscous_n_m_s"];
    assert_eq!(viscous["determined"], false);
    let because = viscous["because"].as_str().unwrap();
    assert!(because.contains("at most 2 ms apart"), "{because}");
    let torque = found["limits"]["torque_limit_n_m"]["because"].as_str().unwrap();
    assert!(torque.contains("5.0 ms apart"), "{torque}");
    let block = std::fs::read_to_string(at.join("found/drive.ron")).unwrap();
    for said in ["slow log", "simulating it", "// CAUTION: ", "rotor_inertia_kg_m2"] {
        assert!(block.contains(said), "{said}: {block}");
    }
    let again = help::call(at, &["identify", "drawn.ron", "slow.csv", "--json"]);
    assert_eq!(super::document(&again)["estimates"], found["estimates"]);
}

/// Moves that no drawn profile makes, along half a cosine, are refused: their currents would
/// tell half of the inertia.
#[test]
fn another_profile_is_refused() {
    let scene = help::scene("workbench");
    let constant = 60.0 / (std::f64::consts::TAU * scene.file().drive.speed_constant_rpm_per_v);
    let step_s = 5e-3;
    let mut log = AxisLog { current_a: Some(Vec::new()), ..AxisLog::default() };
    let spans_s = [0.05, 0.06, 0.08, 0.1, 0.07, 0.05, 0.12, 0.06];
    let end_s: f64 = spans_s.iter().map(|span| span + 0.04).sum();
    for k in 0..(end_s / step_s) as usize {
        let time = k as f64 * step_s;
        let (mut angle, mut torque, mut from) = (0.0, 0.0, 0.03);
        for (number, span) in spans_s.into_iter().enumerate() {
            let way = std::f64::consts::FRAC_PI_2 * if number % 2 == 0 { 1.0 } else { -1.0 };
            let share = ((time - from) / span).clamp(0.0, 1.0);
            let (sin, cos) = (std::f64::consts::PI * share).sin_cos();
            angle += 0.5 * way * (1.0 - cos);
            if share > 0.0 && share < 1.0 {
                let per_s = std::f64::consts::PI / span;
                torque = 0.5 * way * per_s * per_s * cos * 9e-5 + 0.12 * (way * sin).signum();
            }
            from += span + 0.04;
        }
        log.time_s.push(time);
        log.angle_deg.push(angle.to_degrees());
        log.current_a.iter_mut().for_each(|list| list.push(torque / constant));
    }
    let error = identify(&[log], scene.file(), None).unwrap_err().to_string();
    for said in ["does not move as the drawn profile", "drive.profile", "at most 1 ms apart"] {
        assert!(error.contains(said), "{error}");
    }
}
