//! The same seed gives the same bytes, whatever the threads.

use std::collections::BTreeMap;
use std::path::Path;

use crate::help;

const SCRIPT: &str = r#"
    let foyer = scene("foyer.ron").resized(320, 240);
    let pass = rehearse(foyer, 3);
    save_scan(pass.scan, "scan");
    let many = drill_rehearsals(foyer, 6);
    note(many.summary);
"#;

/// Everything that optics can do, all at once.
const EFFECTS: &str = r#"
    let foyer = scene("foyer.ron");
    foyer = foyer.changed("surroundings.bounce", true).changed("lamps.upper.shape", "Disc")
        .changed("lamps.upper.flicker_depth_share", 0.7).changed("cube.finish", "Glossy")
        .changed("tolerances.facelet_wear_share", 0.4);
    for name in ["high", "low"] {
        for change in [["width_px", 160], ["height_px", 120], ["samples_px", 16],
            ["focus_mm", 180.0], ["f_number_ratio", 2.0], ["radial_k1_ratio", -0.15],
            ["auto_exposure_share", 0.2], ["white_balance", "GreyWorld"],
            ["jpeg_quality_percent", 70], ["saturation_ratio", 1.3]] {
            foyer = foyer.changed("cameras." + name + "." + change[0], change[1]);
        }
    }
    let rig = build(foyer);
    let cube = random_cube(1);
    save_scan(rig.scan(cube), "rest");
    save_scan(rig.scan_turned(cube, "R", 25), "turned");
    save_scan(rig.scan_turning(cube, "U", 5, 900), "turning");
    let survey = survey(foyer, 3);
    frames(foyer, 3, #{ vary: ["lamps.upper.flux_lm=100..400"], turned_share: 0.5 }, "set");
    contact_sheet([rig.scan(cube)], "rest");
"#;

fn run(folder: &Path, out: &str, threads: &str, seed: &str) -> BTreeMap<String, Vec<u8>> {
    let arguments = [
        "rehearse",
        "--allow-none",
        "run.rhai",
        "--out",
        out,
        "--threads",
        threads,
        "--seed",
        seed,
    ];
    let call = help::call(folder, &arguments);
    assert_eq!(call.code, 0, "{}", call.stderr);
    help::contents(&folder.join(out))
}

/// Runs a script with one thread and with two, twice each, and gives the files.
fn same_four_times(folder: &Path, script: &str) -> BTreeMap<String, Vec<u8>> {
    std::fs::write(folder.join("foyer.ron"), help::read("scenes/foyer_morning.ron")).unwrap();
    std::fs::write(folder.join("run.rhai"), script).unwrap();
    let one = run(folder, "a", "1", "5");
    for (out, threads) in [("b", "2"), ("c", "1"), ("d", "2")] {
        let other = run(folder, out, threads, "5");
        assert_eq!(one.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>());
        for (name, bytes) in &one {
            assert!(bytes == &other[name], "{name} differs with {threads} threads");
        }
    }
    one
}

#[test]
fn one_thread_and_two_give_the_same_bytes_twice() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let one = same_four_times(at, SCRIPT);
    assert!(one.len() >= 7, "{:?}", one.keys());
    crate::written::kept(std::str::from_utf8(&one["ledger.jsonl"]).unwrap());
    let other_seed = run(at, "e", "2", "6");
    for name in ["ledger.jsonl", "scan-high.png", "scan-low.png"] {
        assert!(one[name] != other_seed[name], "{name} must follow the seed");
    }
}

#[test]
fn so_do_all_effects_surveys_and_sets() {
    let folder = tempfile::tempdir().unwrap();
    let one = same_four_times(folder.path(), EFFECTS);
    let pictures = one.keys().filter(|name| name.ends_with(".png")).count();
    assert_eq!(pictures, (3 + 3) * 2 * 3, "{:?}", one.keys());
    assert!(one["rest-high.png"] != one["turning-high.png"]);
    crate::written::kept(std::str::from_utf8(&one["ledger.jsonl"]).unwrap());
}

/// A whole pass, its pictures with their labels and depth, its plan and its run.
const PASS: &str = r#"
    let foyer = scene("foyer.ron").resized(320, 240);
    let rig = build(foyer, 2);
    let calibration = calibrate(rig);
    let pass = rehearse(rig, calibration, random_cube(2));
    save_scan(pass.scan, "scan");
    save_text("plan.txt", pass.plan.notation);
    expect(pass.solved, "all of it");
"#;

/// The same bytes on every machine, in every build and with any number of threads: digests of what
/// a pass leaves in three scenes. They are stored; a change of one needs its reason in the commit.
#[test]
fn a_pass_leaves_what_it_always_has() {
    let mut digests = BTreeMap::new();
    for scene in ["foyer_morning", "foyer_evening", "workbench"] {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path();
        std::fs::write(at.join("foyer.ron"), help::read(format!("scenes/{scene}.ron"))).unwrap();
        std::fs::write(at.join("run.rhai"), PASS).unwrap();
        let one = run(at, "1", "1", "9");
        for threads in ["2", "3", "8"] {
            assert!(
                run(at, threads, threads, "9") == one,
                "{scene} differs with {threads} threads"
            );
        }
        let ledger = std::str::from_utf8(&one["ledger.jsonl"]).unwrap();
        for stage in ["calibrate", "scan", "read", "plan", "execute", "judge"] {
            assert!(ledger.contains(&format!("\"stage\":\"{stage}\"")), "{scene}: {stage}");
        }
        let kept = one.iter().filter(|(name, _)| !name.starts_with('.'));
        let own: BTreeMap<&String, String> =
            kept.map(|(name, bytes)| (name, dryturn_record::digest(bytes))).collect();
        digests.insert(scene, serde_json::to_value(own).unwrap());
    }
    help::golden("tests/determinism.json", &format!("{:#}\n", serde_json::json!(digests)));
}
