//! Failures of `drill-axes`: counted whatever their cause, and told by the exit code.

use serde_json::Value as Json;

use super::{MIXED, drill, json};
use crate::help;

/// The document of a call that may have ended with code 1.
fn json_of(call: &help::Call) -> Json {
    serde_json::from_str(&call.stdout).unwrap()
}

/// Shafts that break without a jam are failures: the count, the bound and the exit code
/// know them, and the advice to go on does not appear.
#[test]
fn broken_shafts_fail_a_drill() {
    let folder = tempfile::tempdir().unwrap();
    let weak: Vec<String> = ["U", "R", "F", "D", "L", "B"]
        .iter()
        .flat_map(|face| ["--set".to_owned(), format!("shafts.{face}.width_mm=3")])
        .collect();
    let weak: Vec<&str> = weak.iter().map(String::as_str).collect();
    let own = ["--trials", "12", "--plan", "R U F L D B"];
    let call = drill(folder.path(), &[&weak[..], &own, &["--json"]].concat());
    assert_eq!(call.code, 1, "{}", call.stderr);
    assert!(call.stderr.contains("nothing completes: 12 of 12 fail"), "{}", call.stderr);
    let document = json_of(&call);
    assert_eq!(
        (&document["failures"]["count"], &document["jammed"]["count"]),
        (&12.into(), &0.into())
    );
    assert_eq!(document["failures_exact_95_upper"], 1.0);
    assert_eq!(document["kinds"][0]["kind"], "shaft_broke");
    assert_eq!((&document["exit_code"], &document["kinds"][0]["count"]), (&1.into(), &12.into()));
    let broken: u64 =
        document["axes"].as_array().unwrap().iter().map(|a| a["broken"].as_u64().unwrap()).sum();
    assert_eq!(broken, 12);
    let call = drill(folder.path(), &[&weak[..], &own].concat());
    assert!(call.stdout.contains("broken shaft, no jam 12 of 12"), "{}", call.stdout);
    assert!(!call.stdout.contains("further executions"), "{}", call.stdout);
}

/// More failures than are allowed end a drill with code 1, with one sentence for each value;
/// as many do not.
#[test]
fn a_share_of_failures_can_be_demanded() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let mixed =
        |more: &[&str]| drill(at, &[&MIXED[..], &["--trials", "40", "--json"], more].concat());
    let document = json(&mixed(&[]));
    assert_eq!(
        (&document["exit_code"], &document["objections"]),
        (&0.into(), &Json::Array(vec![]))
    );
    let failed = document["failures"]["count"].as_f64().unwrap();
    let share = |count: f64| format!("{}", count / 40.0);
    assert!(failed > 1.0 && failed < 40.0, "{failed}");
    assert_eq!(mixed(&["--fail-above", &share(failed)]).code, 0);
    let call = mixed(&["--fail-above", &share(failed - 1.0)]);
    assert_eq!(call.code, 1);
    let said = call.stderr.lines().filter(|line| line.starts_with("dryturn: ")).count();
    assert_eq!((said, json_of(&call)["objections"].as_array().unwrap().len()), (1, 1));
    let two = ["--fail-above", "0", "--compare", "tolerances.homing_error_sigma_deg=0,2"];
    let call = drill(at, &[&["--trials", "20", "--plan", "R U F L D B"][..], &two].concat());
    assert_eq!(call.code, 1);
    assert!(call.stderr.contains("at tolerances.homing_error_sigma_deg = 2 "), "{}", call.stderr);
    for wrong in ["-0.1", "1.1", "NaN", "few"] {
        let call = drill(at, &["--fail-above", wrong]);
        assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{}", call.stderr);
        assert!(call.stderr.contains("0 to 1"), "{}", call.stderr);
    }
}
