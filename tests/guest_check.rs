//! The command `guest check`, and the schemas of what guests say: with the guests of the crate's
//! own tests, in Python.

use serde_json::Value;

use crate::help;

const SCRIPTS: &str = "engine/front/guests/tests/guests";

#[test]
fn a_good_guest_is_fine() {
    // The reader among them knows pictures of one row alone.
    for role in ["host", "controller"] {
        let folder = tempfile::tempdir().unwrap();
        let script = help::root().join(SCRIPTS).join("good.py").display().to_string();
        let words = ["--json", "--out", "kept", "guest", "check", role, "python3", &script, role];
        let call = help::call(folder.path(), &[&words[..], &["pid", "log"]].concat());
        assert_eq!(call.code, 0, "{role}: {}{}", call.stdout, call.stderr);
        let document: Value = serde_json::from_str(&call.stdout).unwrap();
        assert_eq!(document["command"], "guest");
        assert_eq!(document["check"]["findings"], Value::Array(Vec::new()));
        let kept = std::fs::read_to_string(folder.path().join("kept/guest.json")).unwrap();
        assert_eq!(serde_json::from_str::<Value>(&kept).unwrap(), document);
    }
}

#[test]
fn what_is_wrong_is_told_with_its_last_words() {
    let folder = tempfile::tempdir().unwrap();
    let script = help::root().join(SCRIPTS).join("bad.py").display().to_string();
    let words = ["guest", "check", "reader", "python3", &script, "dies_at_start", "pid"];
    let call = help::call(folder.path(), &words);
    assert_eq!(call.code, 1, "{}", call.stderr);
    for told in ["reader (it did not say its name): 1 finding", "exit code 3", "| last words"] {
        assert!(call.stdout.contains(told), "{told}: {}", call.stdout);
    }
    // No control character reaches a terminal.
    assert!(!call.stdout.contains('\u{1b}'));
    let call = help::call(folder.path(), &["guest", "check", "judge", "true"]);
    assert_eq!(call.code, 2);
    assert!(call.stderr.contains("reader, planner, host, controller"), "{}", call.stderr);
}

#[test]
fn schemas_of_each_role_are_printed() {
    let folder = tempfile::tempdir().unwrap();
    for role in ["reader", "planner", "host", "controller"] {
        let call = help::call(folder.path(), &["schema", &format!("guest-{role}")]);
        assert_eq!(call.code, 0, "{}", call.stderr);
        let schema: Value = serde_json::from_str(&call.stdout).unwrap();
        jsonschema::draft202012::meta::validate(&schema).unwrap();
    }
    let call = help::call(folder.path(), &["schema", "guest-judge"]);
    assert_eq!(call.code, 2);
    assert!(call.stderr.contains("guest-controller"), "{}", call.stderr);
}
