//! Every script runs, and its reference is up to date.

use std::path::Path;

use serde_json::Value as Json;

use crate::help;

/// A test for every script, which is called what the script is called, so that they run side by
/// side and the one that fails says which it is. What a script's ledger and report must say
/// besides its own expectations follows its name. Those of a slow set take most of a minute or more.
macro_rules! scripts {
    (
        usual: [$($name:ident $(=> $besides:path)?,)*]
        slow_set: [$($slow:ident $(=> $too:path)?,)*]
    ) => {
        /// All scripts that have a test.
        const TESTED: &[&str] = &[$(stringify!($name),)* $(stringify!($slow)),*];

        mod holds {
            $(
                #[test]
                fn $name() {
                    let folder = tempfile::tempdir().unwrap();
                    super::runs_and_holds(stringify!($name), folder.path());
                    $( $besides(folder.path()); )?
                }
            )*

            mod slow_set {
                use super::super::*;

                $(
                    #[test]
                    #[ignore = "slow set: CI runs it by name"]
                    fn $slow() {
                        let folder = tempfile::tempdir().unwrap();
                        runs_and_holds(stringify!($slow), folder.path());
                        $( $too(folder.path()); )?
                    }
                )*
            }
        }
    };
}

scripts! {
    usual: [
        after_a_stop,
        calibrating,
        drives,
        first_rehearsal,
        hundred => super::hundred_in_the_morning,
        identify,
        machine_time,
        policies,
        release_angle,
        shaft_widths,
        shafts,
        tuned_plan,
        what_hides_what,
    ]
    slow_set: [
        effects,
        evening_light => stale_calibration,
        few_rays,
        honest,
        jam_rates,
        overlay,
        pictures,
        readers,
        tuning,
        two_layouts,
    ]
}

#[test]
fn every_script_has_its_test() {
    let scripts = help::files("scripts", "rhai");
    let names: Vec<&str> =
        scripts.iter().map(|s| s.file_stem().unwrap().to_str().unwrap()).collect();
    let mut tested = TESTED.to_vec();
    tested.sort_unstable();
    assert_eq!(names, tested, "scripts/*.rhai, and the list in tests/scripts.rs");
}

/// A script in `scripts/` runs to its end and every expectation holds. The drills in them are
/// the acceptance runs: a hundred rigs in the morning, and the same rigs read in the evening
/// with the morning's calibration.
fn runs_and_holds(name: &str, out: &Path) {
    let script = format!("scripts/{name}.rhai");
    // Other tests may take most of the processor: the limit is not what is tested.
    let arguments =
        ["rehearse", "--json", "--timeout", "7200", "--out", out.to_str().unwrap(), &script];
    let call = help::call(&help::root(), &arguments);
    assert_eq!(call.code, 0, "{name}: {}\n{}", call.stdout, call.stderr);
    let document: Json = serde_json::from_str(&call.stdout).unwrap();
    let [script] = &document["scripts"].as_array().unwrap()[..] else {
        panic!("{name}: {document}")
    };
    assert!(!script["expectations"].as_array().unwrap().is_empty(), "{name}: {script}");
    assert_eq!(script["failed"], 0, "{name}");
    let files = script["files"].as_array().unwrap();
    assert!(!files.is_empty(), "{name}");
    for file in files {
        assert!(out.join(file.as_str().unwrap()).is_file(), "{name}: {file}");
    }
    crate::written::kept(&std::fs::read_to_string(out.join("ledger.jsonl")).unwrap());
}

fn ledger(out: &Path) -> Vec<Json> {
    let text = std::fs::read_to_string(out.join("ledger.jsonl")).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// Of 100 rigs at least 98 are read right, and every plan solves what was read:
/// from the ledger's trials, not from the script's own expectations.
fn hundred_in_the_morning(out: &Path) {
    let lines = ledger(out);
    let trials: Vec<_> = lines.iter().filter(|line| line["stage"] == "trial").collect();
    assert_eq!(trials.len(), 100);
    let right = trials.iter().filter(|t| t["read_right"] == true).count();
    assert!(right >= 98, "{right}");
    for trial in &trials {
        assert_ne!(trial["plan_solves_reading"], false, "{trial}");
    }
    let truths: std::collections::BTreeSet<&str> =
        trials.iter().map(|t| t["truth"].as_str().unwrap()).collect();
    assert_eq!(truths.len(), 100, "a hundred different cubes");
}

/// With the morning's calibration in the evening, at least 10 of 100 cubes mix
/// up red and orange (R and L), and the report says between which colours and where.
fn stale_calibration(out: &Path) {
    let lines = ledger(out);
    let trials: Vec<_> = lines.iter().filter(|line| line["stage"] == "trial").take(100).collect();
    let mixed = |m: &Json| {
        let pair = [m["read"].as_str().unwrap(), m["truth"].as_str().unwrap()];
        pair == ["R", "L"] || pair == ["L", "R"]
    };
    let cubes =
        trials.iter().filter(|t| t["mistakes"].as_array().unwrap().iter().any(mixed)).count();
    assert!(cubes >= 10, "{cubes}");
    let report = std::fs::read_to_string(out.join("report.html")).unwrap();
    let (_, shown) = report.split_once("<table class=\"confusion\">").unwrap();
    assert!(shown.contains("class=\"wrong-count\""));
    let (_, pairs) = shown.split_once("two colours were taken for each other").unwrap();
    assert!(pairs.split_once("</p>").unwrap().0.contains("red and orange "));
    assert!(shown.contains("How often each place was read wrong"));
}

#[test]
fn verb_reference_is_up_to_date() {
    help::golden("scripts/README.md", &dryturn_script::verb_reference());
}
