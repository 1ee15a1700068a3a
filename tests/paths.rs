//! Fields are named in one syntax by every command and script: wildcards, links, lists of
//! choices, factors.

use std::collections::BTreeSet;
use std::path::Path;

use serde_json::{Value as Json, json};

use crate::help::{self, Call};

fn scene_path(name: &str) -> String {
    help::root().join(format!("scenes/{name}.ron")).display().to_string()
}

fn drill(at: &Path, more: &[&str]) -> Call {
    let brief = ["--trials", "20", "--plans", "2", "--json"];
    help::call(at, &[&["drill-axes", &scene_path("workbench")][..], &brief, more].concat())
}

fn document(call: &Call) -> Json {
    assert_eq!(call.code, 0, "{}", call.stderr);
    serde_json::from_str(&call.stdout).unwrap()
}

/// All six shafts by `*`, and one after the other: the same drill.
#[test]
fn a_star_sets_every_item() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let figures = |settings: &[String]| {
        let flags = settings.iter().flat_map(|setting| ["--set", setting.as_str()]);
        let call = drill(at, &flags.collect::<Vec<_>>());
        // Shafts so thin that nothing completes end with 1.
        assert!(call.code < 2, "{}", call.stderr);
        let mut found: Json = serde_json::from_str(&call.stdout).unwrap();
        found["settings"].take();
        found
    };
    let each = ["U", "R", "F", "D", "L", "B"].map(|face| format!("shafts.{face}.width_mm=5"));
    let all = figures(&["shafts.*.width_mm=5".to_owned()]);
    assert_eq!(all, figures(&each));
    assert_ne!(all, figures(&[]));
    assert_eq!(all, figures(&["shafts.*.width_mm=x0.625".to_owned()]), "8 mm as drawn");
    let linked = figures(&["shafts.U.width_mm+shafts.D.width_mm=5".to_owned()]);
    assert!(linked != all && linked != figures(&[]));
}

/// Values with names are compared in the order given, in document, table, page and text.
#[test]
fn names_of_choices_are_compared() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let compare = ["--compare", "handover.policy=Settle,Release,Predict", "--out", "out"];
    let found = document(&drill(at, &compare));
    let drills = found["drills"].as_array().unwrap();
    let values: Vec<&Json> = drills.iter().map(|drill| &drill["value"]).collect();
    assert_eq!(values, ["Settle", "Release", "Predict"]);
    let medians: Vec<f64> =
        drills.iter().map(|d| d["time_ms"]["median"]["ms"].as_f64().unwrap()).collect();
    assert!(medians[2] < 0.9 * medians[0], "prediction is faster than waiting: {medians:?}");
    let table = std::fs::read_to_string(at.join("out/drill_axes.csv")).unwrap();
    let named = |name: &str| table.lines().filter(|line| line.starts_with(name)).count();
    assert_eq!(["value,", "Settle,", "Release,", "Predict,"].map(named), [1, 20, 20, 20]);
    let page = std::fs::read_to_string(at.join("out/drill_axes.html")).unwrap();
    assert!(page.contains("<td>Predict</td>") && page.contains(">Release</text>"));
    let text = help::call(
        at,
        &[
            "drill-axes",
            &scene_path("workbench"),
            "--trials=2",
            "--plans=1",
            "--compare=handover.policy=Settle,Predict",
        ],
    );
    assert!(text.stdout.contains("handover.policy = Predict\n"), "{}", text.stdout);
    // Wildcards and factors compare too; numbers keep their order by size.
    let wide = document(&drill(at, &["--compare", "shafts.*.width_mm=9,7"]));
    let values: Vec<f64> =
        wide["drills"].as_array().unwrap().iter().map(|d| d["value"].as_f64().unwrap()).collect();
    assert_eq!(values, [7.0, 9.0]);
    let factors = document(&drill(at, &["--compare", "shafts.*.width_mm=x1,x1.5"]));
    assert_eq!(factors["drills"][1]["value"], "x1.5");
}

fn frames(at: &Path, scans: &str, vary: &[&str]) -> Call {
    let scene = scene_path("foyer_morning");
    let call = ["frames", &scene, "--out", "set", "--size", "64x64", "--samples", "1"];
    let vary = vary.iter().flat_map(|vary| ["--vary", *vary]);
    help::call(at, &[&call[..], &["--scans", scans], &vary.collect::<Vec<_>>()].concat())
}

/// One draw goes to all fields that a path leads to; names are drawn like numbers; the
/// manifest says what each field was.
#[test]
fn linked_fields_are_drawn_together() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let call = frames(
        at,
        "12",
        &[
            "lamps.*.flux_lm=x0.5..x1.5",
            "lamps.upper.spectrum+lamps.lower.spectrum=LedB1,LedB3,LedV2",
            "cameras.*.exposure_ms=5..15",
        ],
    );
    assert_eq!(call.code, 0, "{}", call.stderr);
    let manifest: Json =
        serde_json::from_str(&std::fs::read_to_string(at.join("set/manifest.json")).unwrap())
            .unwrap();
    let vary = &manifest["request"]["vary"];
    assert_eq!(
        vary[0],
        json!({ "field": "lamps.*.flux_lm", "low": 0.5, "high": 1.5, "times": true })
    );
    assert_eq!(vary[1]["values"], json!(["LedB1", "LedB3", "LedV2"]));
    assert_eq!(vary[2], json!({ "field": "cameras.*.exposure_ms", "low": 5.0, "high": 15.0 }));
    let (mut spectra, mut factors) = (BTreeSet::new(), BTreeSet::new());
    for scan in manifest["scans"].as_array().unwrap() {
        let drawn = &scan["drawn"];
        assert_eq!(drawn.as_object().unwrap().len(), 7, "{drawn}");
        let lamp = |name: &str| drawn[format!("lamps.{name}.flux_lm")].as_f64().unwrap();
        let factor = lamp("upper") / 200.0;
        assert!((0.5..=1.5).contains(&factor), "{factor}");
        assert!((lamp("window") / 40000.0 - factor).abs() < 1e-9);
        assert!((lamp("lower") / 410.0 - factor).abs() < 1e-9);
        assert_eq!(drawn["lamps.upper.spectrum"], drawn["lamps.lower.spectrum"]);
        assert_eq!(drawn["cameras.high.exposure_ms"], drawn["cameras.low.exposure_ms"]);
        factors.insert(format!("{factor:.9}"));
        spectra.insert(drawn["lamps.upper.spectrum"].as_str().unwrap().to_owned());
    }
    assert_eq!(factors.len(), 12, "drawn anew for each scan");
    assert_eq!(spectra.len(), 3, "{spectra:?}");
}

/// One clear line: the path, where it breaks off, what is there.
#[test]
fn paths_that_lead_nowhere_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let refused = |call: &Call, parts: &[&str]| {
        assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{}", call.stderr);
        parts
            .iter()
            .for_each(|part| assert!(call.stderr.contains(part), "{part}: {}", call.stderr));
        // Who asked for a document gets the error in one, and nothing else.
        if !call.stdout.is_empty() {
            let document: Json = serde_json::from_str(&call.stdout).unwrap();
            assert_eq!(document["exit_code"], 2, "{document}");
            assert_eq!(document.as_object().unwrap().len(), 2, "{document}");
        }
    };
    for (vary, parts) in [
        (
            &["lamps.*.watts=1..2"][..],
            &["lamps.*.watts", "'watts' is no field of lamps.window"][..],
        ),
        (&["lamps.uper.flux_lm=1..2"], &["'uper' is no item of lamps: window, upper, lower"]),
        (&["lamps.upper.spectrum=LedB1,Moonlight"], &["lamps.upper.spectrum", "Moonlight"]),
        (&["lamps.upper.flux_lm=100"], &["FIELD=LOW..HIGH or FIELD=A,B,…"]),
        (&["lamps.*.flux_lm=x2..x1"], &["FIELD=LOW..HIGH"]),
        (
            &["lamps.*.flux_lm=1..2", "lamps.upper.flux_lm=3..4"],
            &["lamps.upper.flux_lm is varied twice: lamps.*.flux_lm"],
        ),
    ] {
        refused(&frames(at, "2", vary), parts);
        assert!(!at.join("set").exists(), "{vary:?}");
    }
    let sets: [(&str, &[&str]); 4] = [
        ("shafts.*.colour=3", &["workbench.ron", "shafts.*.colour", "no field of shafts.U"]),
        ("fixtures.*.size=3", &["no field of fixtures.card", "size_mm"]),
        ("drive.*=3", &["'*', which stands for the items of a list, is no field of drive"]),
        ("shafts.*.width_mm=99", &["width_mm is 99", "1.0 to 30.0"]),
    ];
    for (set, parts) in sets {
        refused(&drill(at, &["--set", set]), parts);
    }
}

/// Scripts name fields the same way, also where they sweep and make sets.
#[test]
fn scripts_take_the_same_paths() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("foyer.ron"), help::read("scenes/foyer_morning.ron")).unwrap();
    let script = r#"
        let foyer = scene("foyer.ron").resized(64, 64).changed("cameras.*.samples_px", 1);
        let dim = foyer.changed("lamps.*.flux_lm", "x0.5");
        let by_hand = foyer.changed("lamps.window.flux_lm", 20000).changed("lamps.upper.flux_lm", 100)
            .changed("lamps.lower.flux_lm", 205);
        let rig = build(foyer);
        let light = |scene| seen(rig.moved_to(scene).scan(solved()), "high", "URF").linear;
        expect(light.call(dim) == light.call(by_hand), "half of each lamp");
        expect(light.call(dim)[1] < light.call(foyer)[1], "and darker");
        frames(foyer, 2, #{ vary: ["lamps.*.spectrum=LedB1,LedB3", "cameras.*.exposure_ms=5..9"] }, "set");
        let points = [];
        for policy in ["Settle", "Predict"] {
            points.push([policy, drill_axes(foyer.changed("handover.policy", policy), 3, plan_of("R U F"))]);
        }
        show_sweep("When the next face begins", "policy", points);
    "#;
    std::fs::write(at.join("run.rhai"), script).unwrap();
    let call = help::call(at, &["rehearse", "--allow-none", "run.rhai", "--out", "out"]);
    assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
    let page = std::fs::read_to_string(at.join("out/report.html")).unwrap();
    assert!(page.contains("<td>Predict</td>") && page.contains(">Settle</text>"));
    let wrong = "let foyer = scene(\"foyer.ron\");\nfoyer.changed(\"lamps.*.watts\", 1);";
    std::fs::write(at.join("run.rhai"), wrong).unwrap();
    let call = help::call(at, &["rehearse", "--allow-none", "run.rhai", "--out", "other"]);
    assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{}", call.stderr);
    assert!(call.stderr.contains("run.rhai:2:") && call.stderr.contains("'watts' is no field"));
}
