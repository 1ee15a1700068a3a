//! The command `tune`.

use std::path::Path;

use serde_json::Value as Json;

use crate::help::{self, Call};

/// Few settings and few trials; the gains stay.
const BRIEF: &[&str] = &[
    "--candidates=8",
    "--proof=120",
    "--jam-rate=0.05",
    "--keep=controller.speed_gain_per_s",
    "--keep=controller.position_gain_per_s",
    "--keep=controller.speed_integral_per_s",
    "--keep=controller.friction_feed_forward_ratio",
    "--keep=controller.wind_up_compensation_ratio",
    "--keep=controller.hold_torque_share",
    "--keep=drive.speed_limit_rad_s",
];

fn tune(at: &Path, more: &[&str]) -> Call {
    let scene = help::root().join("scenes/foyer_morning.ron").display().to_string();
    help::call(at, &[&["tune", &scene], BRIEF, more].concat())
}

fn hollow(width_mm: &str) -> Vec<String> {
    let of = |face: &str| {
        [
            format!("--set=shafts.{face}.infill_share=0.2"),
            format!("--set=shafts.{face}.width_mm={width_mm}"),
        ]
    };
    ["U", "R", "F", "D", "L", "B"].into_iter().flat_map(of).collect()
}

fn document(call: &Call) -> Json {
    serde_json::from_str(&call.stdout).unwrap_or_else(|e| panic!("{e}: {}", call.stderr))
}

/// What is found is faster, holds on another seed's cubes and luck, and can be used as it
/// is; the same bytes come of any number of threads.
#[test]
fn found_settings_hold() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let call = tune(at, &["--json", "--out=one", "--threads=1"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let found = &document(&call)["found"];
    let median = |drill: &Json| drill["time_ms"]["median"]["ms"].as_f64().unwrap();
    let (tuned, before) = (median(&found["drill"]), median(&found["before"]));
    assert!(tuned < 0.85 * before, "{tuned} {before}");
    assert!(found["gap_closed_share"].as_f64().unwrap() > 0.4, "{found}");
    assert!(found["failure_wilson_95_high"].as_f64().unwrap() < 0.05);
    assert!(found["static_safety_factor"].as_f64().unwrap() >= 2.0);
    // Nothing that was kept has changed, and each change is told once.
    let settings = found["settings"].as_array().unwrap();
    let fields: Vec<&str> = settings.iter().map(|s| s["field"].as_str().unwrap()).collect();
    assert!(fields.contains(&"handover.policy"), "{fields:?}");
    assert!(!fields.iter().any(|field| field.starts_with("controller.")), "{fields:?}");

    // The written scene is the tuned one.
    let drill = |seed: &str| {
        let arguments = ["drill", "one/tuned.ron", "--trials=200", "--seed", seed, "--json"];
        document(&help::call(at, &arguments))
    };
    let fresh = drill("99");
    assert!(fresh["jammed"]["count"].as_u64().unwrap() <= 14, "{}", fresh["jammed"]);
    assert!((median(&fresh) / tuned - 1.0).abs() < 0.1, "{} {tuned}", median(&fresh));
    let blocks = std::fs::read_to_string(at.join("one/settings.ron.part")).unwrap();
    assert!(blocks.contains("policy: Predict"), "{blocks}");
    let page = std::fs::read_to_string(at.join("one/tune.html")).unwrap();
    let dots = page.matches("<circle").count();
    assert!(dots > 10, "{dots} dots");
    for part in ["Tuning of the axes", "handover.policy", "The race", &format!("{tuned:.1}")] {
        assert!(page.contains(part), "{part}");
    }

    let again = tune(at, &["--json", "--out=two", "--threads=2"]);
    assert_eq!(call.stdout, again.stdout);
    assert_eq!(help::contents(&at.join("one")), help::contents(&at.join("two")));
}

/// Shafts that cannot hold are said to be so, and nothing is written that looks like
/// settings; where stronger ones are allowed, they are found.
#[test]
fn weak_shafts_are_no_settings() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let weak = hollow("5");
    let weak: Vec<&str> = weak.iter().map(String::as_str).collect();
    let call = tune(at, &[&weak[..], &["--out=weak"]].concat());
    assert_eq!(call.code, 1, "{}", call.stderr);
    assert!(call.stdout.contains("the shafts cannot hold"), "{}", call.stdout);
    assert!(!at.join("weak/tuned.ron").exists());

    let call = tune(at, &[&weak[..], &["--allow=shafts.*.width_mm=5..14", "--json"]].concat());
    assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
    let found = &document(&call)["found"];
    let settings = found["settings"].as_array().unwrap();
    let width = settings.iter().find(|s| s["field"] == "shafts.*.width_mm").unwrap();
    assert!(width["after"].as_str().unwrap().parse::<f64>().unwrap() > 6.0, "{width}");
    assert!(found["static_safety_factor"].as_f64().unwrap() >= 2.0);
}

/// A torque limit that is to be kept is not lowered behind the builder's back.
#[test]
fn a_kept_torque_limit_stays() {
    let folder = tempfile::tempdir().unwrap();
    let kept = ["--safety-factor=4", "--keep=drive.torque_limit_n_m"];
    let call = tune(folder.path(), &kept);
    assert_eq!(call.code, 1, "{}", call.stderr);
    let says = ["the shafts cannot hold", "0.346 N·m", "0.564 N·m are needed"];
    assert!(says.iter().all(|part| call.stdout.contains(part)), "{}", call.stdout);
}

/// A rig that jams whatever its settings is told why.
#[test]
fn a_rig_that_always_jams_is_no_settings() {
    let folder = tempfile::tempdir().unwrap();
    let missed = ["--set=tolerances.homing_miss_share=0.9", "--json"];
    let call = tune(folder.path(), &missed);
    assert_eq!(call.code, 1, "{}", call.stderr);
    let document = document(&call);
    assert!(document["found"].is_null());
    let because = document["because"].as_str().unwrap();
    assert!(because.contains("no settings keep the target") && because.contains("could not turn"));
}

/// Wrong requests: one line, code 2, nothing written.
#[test]
fn wrong_requests() {
    let cases: &[(&[&str], &str)] = &[
        (&["--jam-rate=0"], "above 0, below 1"),
        (&["--jam-rate=1.5"], "above 0, below 1"),
        (&["--jam-rate=NaN"], "above 0, below 1"),
        (&["--safety-factor=0.5"], "1 to 100"),
        (&["--candidates=3"], "8 to 1000"),
        (&["--jam-rate=0.01", "--proof=200"], "at least 381"),
        (&["--proof=1000000"], "at most 100000"),
        (&["--keep=handover.policy", "--keep=handover.policy"], "kept twice"),
        (&["--keep=drive.colour"], "nothing to keep under drive.colour"),
        (&["--allow=drive.bus_voltage_v"], "FIELD=LOW..HIGH"),
        (&["--allow=drive.bus_voltage_v=48..30"], "FIELD=LOW..HIGH"),
        (&["--allow=drive.bus_voltage_v=30..90"], "6.0 to 60.0"),
        (&["--allow=drive.volts=30..48"], "drive.volts"),
        (&["--allow=lamps.window.flux_lm=1..2"], "cannot tune lamps.window.flux_lm"),
        (&["--allow=cube.tension_ratio=1..2", "--allow=cube.tension_ratio=1..3"], "allowed twice"),
        (&["--allow=shafts.*.colour=1..2"], "colour"),
        (&["--set=drive.bus_voltage_v=99"], "6.0 to 60.0"),
    ];
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = help::root().join("scenes/foyer_morning.ron").display().to_string();
    for (arguments, says) in cases {
        let call = help::call(at, &[&["tune", &scene, "--out=out"], *arguments].concat());
        assert_eq!(call.code, 2, "{arguments:?}: {}{}", call.stdout, call.stderr);
        assert!(call.stderr.contains(says), "{arguments:?}: {}", call.stderr);
        assert!(call.stdout.is_empty() && !at.join("out").exists(), "{arguments:?}");
    }
}
