//! Every script runs, and its reference is up to date.

use crate::help;

/// Every script in `scripts/` runs to its end and every expectation holds. The
/// drills in them are the acceptance runs: a hundred rigs in the morning, and
/// the same rigs read in the evening with the morning's calibration.
#[test]
fn every_script_runs_and_holds() {
    let folder = tempfile::tempdir().unwrap();
    let scripts = help::files("scripts", "rhai");
    assert!(scripts.len() >= 3);
    let mut arguments = vec!["rehearse", "--json", "--out", folder.path().to_str().unwrap()];
    let names: Vec<String> = scripts.iter().map(|s| s.display().to_string()).collect();
    arguments.extend(names.iter().map(String::as_str));
    let call = help::call(&help::root(), &arguments);
    assert_eq!(call.code, 0, "{}\n{}", call.stdout, call.stderr);
    let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    for script in document["scripts"].as_array().unwrap() {
        assert!(!script["expectations"].as_array().unwrap().is_empty(), "{script}");
        assert_eq!(script["failed"], 0);
        let out = std::path::PathBuf::from(script["out"].as_str().unwrap());
        for file in script["files"].as_array().unwrap() {
            assert!(out.join(file.as_str().unwrap()).is_file(), "{file}");
        }
    }
    hundred_in_the_morning(&ledger(folder.path(), "hundred"));
    stale_calibration(&ledger(folder.path(), "evening_light"));
    let report = std::fs::read_to_string(folder.path().join("evening_light/report.html")).unwrap();
    // The report says between which colours and where.
    let (_, shown) = report.split_once("<table class=\"confusion\">").unwrap();
    assert!(shown.contains("class=\"wrong-count\""));
    let (_, pairs) = shown.split_once("two colours were taken for each other").unwrap();
    assert!(pairs.split_once("</p>").unwrap().0.contains("red and orange "));
    assert!(shown.contains("How often each place was read wrong"));
}

fn ledger(out: &std::path::Path, script: &str) -> Vec<serde_json::Value> {
    let text = std::fs::read_to_string(out.join(script).join("ledger.jsonl")).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// Of 100 rigs at least 98 are read right, and every plan solves what was read:
/// from the ledger's trials, not from the script's own expectations.
fn hundred_in_the_morning(lines: &[serde_json::Value]) {
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
/// up red and orange (R and L).
fn stale_calibration(lines: &[serde_json::Value]) {
    let trials: Vec<_> = lines.iter().filter(|line| line["stage"] == "trial").take(100).collect();
    let mixed = |m: &serde_json::Value| {
        let pair = [m["read"].as_str().unwrap(), m["truth"].as_str().unwrap()];
        pair == ["R", "L"] || pair == ["L", "R"]
    };
    let cubes =
        trials.iter().filter(|t| t["mistakes"].as_array().unwrap().iter().any(mixed)).count();
    assert!(cubes >= 10, "{cubes}");
}

#[test]
fn verb_reference_is_up_to_date() {
    help::golden("scripts/README.md", &dryturn_script::verb_reference());
}
