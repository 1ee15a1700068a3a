//! Found before the work begins.

use std::time::{Duration, Instant};

use super::foyer;
use crate::help;

/// Each command that takes `--out` finds a file in its place before it looks at anything else.
#[test]
fn no_folder_to_write_to() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("file"), "mine").unwrap();
    std::fs::write(at.join("s.rhai"), "expect(true, \"fine\");").unwrap();
    std::fs::create_dir(at.join("held")).unwrap();
    let lock = std::fs::File::create(at.join("held/.dryturn-lock")).unwrap();
    lock.lock().unwrap();
    let scene = foyer();
    let scene = scene.as_str();
    let camera = [
        "camera",
        "lens",
        "--scene",
        scene,
        "--camera",
        "high",
        "--corners",
        "7x5",
        "--pitch-mm",
        "20",
    ];
    let commands: [&[&str]; 16] = [
        &["rehearse", "s.rhai"],
        &["read", "--scene", scene, "none.png"],
        &["calibrate", "--scene", scene, "--solved", "none.png"],
        &["survey", scene, "--draws", "100000"],
        &["frames", scene, "--scans", "100000"],
        &["plan", "R U", "--nodes", "100000000000"],
        &["plan", "--random", "100000"],
        &["drill-axes", scene, "--trials", "1000000"],
        &["drill-axes", scene, "--trials", "1000000", "--compare", "drive.bus_voltage_v=36,48"],
        &["follow", "none.csv", "--scene", scene],
        &["tune", scene],
        &["tables"],
        &["identify", scene, "none.csv"],
        &["overlay", scene, "none.csv", "--plan", "R"],
        &["check", scene],
        &["verbs"],
    ];
    let begun = Instant::now();
    for command in commands.into_iter().chain([&[&camera[..], &["none.png"]].concat()[..]]) {
        let places = [("file", "is a file"), ("held", "another run"), ("/proc/no", "writable")];
        for (out, word) in places {
            let call = help::call(at, &[command, &["--out", out]].concat());
            assert_eq!(call.code, 2, "{command:?} {out}: {}", call.stderr);
            assert_eq!(call.stderr.lines().count(), 1, "{command:?} {out}: {}", call.stderr);
            assert!(call.stderr.contains(word), "{command:?} {out}: {}", call.stderr);
        }
    }
    assert!(begun.elapsed() < Duration::from_secs(20), "{:?}", begun.elapsed());
    lock.unlock().unwrap();
}

/// A file of somebody else's where results must go is found before the work.
#[test]
fn a_file_in_the_way() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::create_dir(at.join("out")).unwrap();
    std::fs::write(at.join("out/drill_axes.csv"), "mine").unwrap();
    let call = help::call(at, &["drill-axes", &foyer(), "--trials", "1000000", "--out", "out"]);
    assert_eq!(call.code, 2);
    assert!(call.stderr.contains("was not written by this program"), "{}", call.stderr);
    assert_eq!(super::hidden(&at.join("out")), [""; 0]);
}

/// What can be known of all scripts is known before the first runs.
#[test]
fn scripts_are_looked_through() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let write = |name: &str, text: &str| std::fs::write(at.join(name), text).unwrap();
    write("a.rhai", "note(setting(\"count\", 1)); expect(true, \"fine\");");
    write("b.rhai", "expect(true, \"fine\");");
    write("fly.rhai", "note(1);\nfly();");
    write("scene.rhai", "scene(\"none.ron\");");
    write("open.rhai", "expect(true, \"fine\"; ");
    let cases: [(&[&str], &str); 5] = [
        (&["a.rhai", "b.rhai", "fly.rhai"], "fly.rhai:2:1: unknown verb fly"),
        (&["a.rhai", "scene.rhai"], "scene.rhai:1: "),
        (&["a.rhai", "open.rhai"], "open.rhai:1:"),
        (&["a.rhai", "b.rhai", "--set", "cuont=2"], "no script asks for such; asked for: count"),
        (&["b.rhai", "--set", "count=2"], "no script asks for such; asked for: none"),
    ];
    for (arguments, part) in cases {
        let call =
            help::call(at, &[&["rehearse"], arguments, &["--out", "out", "--json"]].concat());
        assert_eq!(call.code, 2, "{arguments:?}");
        assert!(call.stderr.contains(part), "{arguments:?}: {}", call.stderr);
        let _: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
        assert!(!at.join("out").exists(), "{arguments:?}");
    }
    let both = ["rehearse", "a.rhai", "b.rhai", "--set", "count=2", "--out", "out"];
    assert_eq!(help::call(at, &both).code, 0);
    // Only known at the end: the results are kept, and then it is an error.
    write("d.rhai", "let n = \"cou\"; n += \"nt\"; note(setting(n, 1)); expect(true, \"fine\");");
    let late = help::call(at, &["rehearse", "d.rhai", "--set", "cuont=2", "--out", "late"]);
    assert_eq!(late.code, 2, "{}", late.stderr);
    assert!(late.stderr.contains("the setting cuont is given"), "{}", late.stderr);
    assert!(at.join("late/report.html").exists());
}
