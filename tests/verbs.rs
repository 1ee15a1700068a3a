//! `dryturn verbs`: what it says, and what it leaves.

use crate::help;

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

#[test]
fn verbs_are_listed_and_found_by_words() {
    let at = folder();
    let call = |arguments: &[&str]| help::call(at.path(), arguments);
    let all = call(&["verbs"]);
    assert_eq!(all.code, 0, "{}", all.stderr);
    for line in ["  scan(rig, cube): The pictures of each camera", "  cube.net: The unfolded net"] {
        assert!(all.stdout.contains(line), "{}", all.stdout);
    }
    let by_name = call(&["verbs", "scan_turn"]).stdout;
    assert!(by_name.starts_with("scan_turned(rig, cube, face, angle)\n"), "{by_name}");
    assert!(by_name.contains("  speed: number, degrees a second"), "{by_name}");
    assert!(by_name.contains("    let rig = build(foyer);"), "{by_name}");
    assert!(!by_name.contains("calibrate"), "{by_name}");
    let by_text = call(&["verbs", "firmware"]).stdout;
    assert!(by_text.contains("save_rig_plan(pass, name, ceiling)"), "{by_text}");
    let json = call(&["verbs", "SCAN_TURN", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json.stdout).unwrap();
    assert_eq!(json["verbs"].as_array().unwrap().len(), 2, "{json:#}");
    assert_eq!(json["verbs"][0]["arguments"][3]["name"], "angle");
}

#[test]
fn a_word_that_leads_nowhere_is_one_error_with_near_names() {
    let at = folder();
    let none = help::call(at.path(), &["verbs", "rehaerse"]);
    assert_eq!(none.code, 2);
    assert_eq!(none.stderr.lines().count(), 1, "{}", none.stderr);
    assert!(none.stderr.contains("rehearse"), "{}", none.stderr);
    let json = help::call(at.path(), &["verbs", "rehaerse", "--json"]);
    assert_eq!(json.code, 2);
}

#[test]
fn definitions_are_written_for_editors() {
    let at = folder();
    let call = help::call(at.path(), &["verbs", "--out", "d"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let text = std::fs::read_to_string(at.path().join("d/dryturn.d.rhai")).unwrap();
    assert!(text.starts_with("module static;\n"), "{text}");
    assert!(text.contains("fn scan(rig: Rig, cube: Cube) -> Scan;"), "{text}");
    assert!(text.contains("fn get net(cube: Cube) -> String;"), "{text}");
    assert!(!text.contains('\\') && !text.contains("/root"), "of the machine: {text}");
    let json = std::fs::read_to_string(at.path().join("d/verbs.json")).unwrap();
    assert_eq!(json.trim_end(), help::call(at.path(), &["verbs", "--json"]).stdout.trim_end());
}

/// Who types a name that something had is told the one that it has.
#[test]
fn old_names_say_the_new_ones() {
    let at = tempfile::tempdir().unwrap();
    std::fs::write(at.path().join("s.rhai"), "expect(labelled_set(1, 2, \"a\") == 3, \"a\");")
        .unwrap();
    for (arguments, said) in [
        (&["verbs", "drill_turning"][..], "the verb drill_turning is now called drill_axes"),
        (&["check", "s.rhai"], "s.rhai:1:8: the verb labelled_set is now called frames"),
        (&["drill", "rig.ron"], "the command drill is now called drill-axes; see --help"),
    ] {
        let call = help::call(at.path(), arguments);
        assert_eq!((call.code, call.stderr.trim_end()), (2, &*format!("dryturn: {said}")));
    }
}
