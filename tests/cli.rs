//! Flags, JSON documents and exit codes.

use dryturn_cube::{CubeState, net, notation};

use crate::help;

#[test]
fn plan_solves_what_it_is_given_in_both_forms() {
    let folder = tempfile::tempdir().unwrap();
    let scramble = "R U2 F' D L B2 U' R2";
    let state = CubeState::SOLVED.turned_by(&notation::parse(scramble).unwrap());
    let faces = net::write_faces(&state.colours());
    std::fs::write(folder.path().join("state.txt"), &faces).unwrap();
    for cube in [scramble, &faces, "state.txt"] {
        let call = help::call(folder.path(), &["plan", "--json", cube]);
        assert_eq!(call.code, 0, "{}", call.stderr);
        let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
        let plan = notation::parse(document["plan"].as_str().unwrap()).unwrap();
        assert_eq!(state.turned_by(&plan), CubeState::SOLVED);
        assert_eq!(document["turns"], plan.len());
        assert_eq!(document["faces"].as_str().unwrap(), faces);
    }
    // Turns may come as separate words, and the plan alone is on stdout.
    let call = help::call(folder.path(), &["plan", "R", "U"]);
    assert_eq!(call.stdout, "U' R'\n");
}

#[test]
fn a_failed_expectation_is_code_one_and_still_leaves_the_report() {
    let folder = tempfile::tempdir().unwrap();
    let script = "expect(1 > 2, \"one is more than two\");\nexpect(true, \"fine\");";
    std::fs::write(folder.path().join("no.rhai"), script).unwrap();
    let call = help::call(
        folder.path(),
        &["rehearse", "--allow-none", "--json", "no.rhai", "--out", "out"],
    );
    assert_eq!(call.code, 1);
    let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    assert_eq!(document["exit_code"], 1);
    assert_eq!(document["scripts"][0]["failed"], 1);
    assert_eq!(document["scripts"][0]["expectations"][0]["line"], 1);
    let report = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(report.contains("one is more than two") && report.contains("✗ failed"));
}

#[test]
fn check_tells_what_the_cameras_read() {
    let call = help::call(
        &help::root(),
        &["check", "--json", "scenes/workbench.ron", "scripts/hundred.rhai"],
    );
    assert_eq!(call.code, 0, "{}", call.stderr);
    let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    let scene = &document["files"][0];
    assert_eq!(scene["hidden"].as_array().unwrap().len(), 6);
    assert_eq!(scene["cameras"][0]["facelets"], 21);
    assert_eq!(document["files"][1]["fine"], true);
}

/// The next run replaces what the last one wrote, and leaves alone what it did not.
#[test]
fn a_second_run_clears_its_own_leftovers_only() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let write = |text: &str| std::fs::write(at.join("s.rhai"), text).unwrap();
    write("save_text(\"old.txt\", \"old\"); save_text(\"both.txt\", \"1\");");
    assert_eq!(help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]).code, 0);
    std::fs::write(at.join("out/mine.txt"), "kept by hand").unwrap();
    write("save_text(\"both.txt\", \"2\");");
    assert_eq!(help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]).code, 0);
    assert!(!at.join("out/old.txt").exists());
    assert_eq!(std::fs::read_to_string(at.join("out/both.txt")).unwrap(), "2");
    assert_eq!(std::fs::read_to_string(at.join("out/mine.txt")).unwrap(), "kept by hand");
}

/// Names are shown as text in the report, never as markup.
#[test]
fn markup_in_names_is_shown_as_text() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let hostile = "<script>alert(1)</script>";
    let text = help::read("scenes/workbench.ron").replace("Workbench, one panel", hostile);
    std::fs::write(at.join("w.ron"), text).unwrap();
    let script = format!(
        "let p = rehearse(scene(\"w.ron\")); expect(true, \"{hostile}\"); note(\"{hostile}\");"
    );
    std::fs::write(at.join("s.rhai"), script).unwrap();
    let call = help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let report = std::fs::read_to_string(at.join("out/report.html")).unwrap();
    assert!(!report.contains("<script"));
    assert!(report.matches("&lt;script&gt;").count() >= 3);
}

/// The report is one file: no script, no address to load from.
#[test]
fn the_report_is_self_contained_and_carries_the_cautions() {
    let folder = tempfile::tempdir().unwrap();
    let script = help::root().join("scripts/first_rehearsal.rhai").display().to_string();
    let call = help::call(folder.path(), &["rehearse", &script, "--out", "out"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let report = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    for absent in ["http://", "https://", "<script", "<link", "url("] {
        assert!(!report.contains(absent), "{absent}");
    }
    assert_eq!(report.matches("data:image/png;base64,").count(), 2);
    assert!(report.contains("class=\"timing\"") && report.contains("What was read"));
    for caution in dryturn_report::CAUTIONS {
        assert!(report.contains(caution));
    }
}
