//! Guests on stage: programs of a builder's own that play in whole rehearsals. Most of them are the
//! examples that lie in `assets/guests`.

use std::path::Path;
use std::process::Command;

use dryturn_record::ledger::{self, Line};
use dryturn_rehearsal::Verdict;
use serde_json::Value;

use crate::help::{self, Call};

#[path = "guests/misbehave.rs"]
mod misbehave;

/// Writes a script's scene with small pictures, and with these fields.
fn scene(folder: &Path, fields: &[(&str, &str)]) {
    let plain = help::scene("workbench");
    let mut file = plain.file().clone();
    help::with_small_pictures(&mut file);
    let small = plain.with_file(file).unwrap();
    let with = |scene: dryturn_scene::Scene, (path, value): &(&str, &str)| {
        scene.with_text(path, value).unwrap()
    };
    let scene = fields.iter().fold(small, with);
    std::fs::write(folder.join("bench.ron"), scene.to_ron()).unwrap();
}

/// Rehearses in the scene, with what the script says after the pass.
fn rehearse(folder: &Path, after: &str, options: &[&str]) -> Call {
    let script = format!("let pass = rehearse(scene(\"bench.ron\"), 3);\n{after}\n");
    std::fs::write(folder.join("guests.rhai"), script).unwrap();
    let words = ["rehearse", "guests.rhai", "--out", "out"];
    help::call(folder, &[&words[..], options].concat())
}

fn lines(folder: &Path) -> (String, Vec<Line>) {
    let text = std::fs::read_to_string(folder.join("out/ledger.jsonl")).unwrap();
    let lines = ledger::parse(&text).unwrap();
    (text, lines)
}

fn python(name: &str) -> String {
    let path = help::root().join("assets/guests").join(name);
    format!("python3 '{}'", path.display())
}

/// Compiles an example.
fn compiled(name: &str, into: &Path) -> String {
    let assets = help::root().join("assets/guests");
    let program = into.join(name);
    let built = Command::new("cc")
        .args(["-std=c99", "-O2", "-I"])
        .arg(&assets)
        .arg(assets.join("examples").join(name).with_extension("c"))
        .args(["-lm", "-o"])
        .arg(&program)
        .status()
        .expect("a C compiler, `cc`, is needed for this test");
    assert!(built.success());
    format!("'{}'", program.display())
}

#[test]
fn a_planner_in_python_and_a_host_in_c_play_in_one_rehearsal() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[]);
    let planner = format!("planner={}", python("examples/planner.py"));
    let host = format!("host={}", compiled("host", at));
    let after = "expect(pass.solved, \"it ends up solved\");";
    let mut ledgers = Vec::new();
    for threads in ["1", "2"] {
        let guests = ["--guest", &planner, "--guest", &host, "--threads", threads];
        let call = rehearse(at, after, &guests);
        assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
        ledgers.push(lines(at));
    }
    assert_eq!(ledgers[0].0, ledgers[1].0, "the same bytes, whatever the number of threads");
    let (mut planned, mut turned) = (None, None);
    for line in &ledgers[0].1 {
        match line {
            Line::Plan(line) => planned = line.guest.clone(),
            Line::Execute(line) => turned = line.host_guest.clone(),
            Line::Judge(line) => {
                assert_eq!((line.verdict, &line.guest_fault), (Verdict::Solved, &None));
            }
            _ => {}
        }
    }
    assert_eq!(planned.as_deref(), Some("layer by layer"));
    assert_eq!(turned.as_deref(), Some("window and dwell 1"));
}

#[test]
fn scenes_start_guests_only_where_that_is_allowed() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[("guests.planner.command", r#"["false"]"#)]);
    let after = "expect(pass.verdict == \"guest\", \"it cannot go on\");";
    let call = rehearse(at, after, &[]);
    assert_eq!(call.code, 2, "{}", call.stdout);
    for told in ["guests.rhai:1", "guests.planner.command", "\"false\"", "--allow-guests"] {
        assert!(call.stderr.contains(told), "{told}: {}", call.stderr);
    }
    let call = rehearse(at, after, &["--allow-guests"]);
    assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
    // Whoever is named in the call takes the place of the scene's.
    let planner = format!("planner={}", python("examples/planner.py"));
    let after = "expect(pass.solved, \"it ends up solved\");";
    let call = rehearse(at, after, &["--guest", &planner]);
    assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
}

#[test]
fn guests_that_cannot_go_on_are_a_verdict_with_their_last_words() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[]);
    for role in ["reader", "planner", "host", "controller"] {
        let guest = format!("{role}=sh -c 'echo no such part >&2; exit 3'");
        let after = "expect(pass.verdict == \"guest\", \"it cannot go on\");";
        let call = rehearse(at, after, &["--guest", &guest]);
        assert_eq!(call.code, 0, "{role}: {}{}", call.stdout, call.stderr);
        let (_, lines) = lines(at);
        let judged = lines.iter().find_map(|line| match line {
            Line::Judge(line) => line.guest_fault.clone(),
            _ => None,
        });
        let fault = judged.expect(role);
        assert_eq!((fault.role.word(), fault.guest.as_str()), (role, "sh"));
        assert_eq!((fault.fault.question.as_str(), fault.fault.kind.as_str()), ("hello", "exited"));
        assert_eq!(fault.fault.stderr, ["no such part"]);
    }
}

/// A planner that knows one plan, which its command gives it.
const UNDOES: &str = r#"
import sys
sys.path.insert(0, sys.argv[1])
from dryturn_guest import run_planner
run_planner(lambda asked: {"turns": sys.argv[2], "operations": 1500}, name="one plan")
"#;

#[test]
fn what_answers_cost_is_on_the_clock() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[("guests.planner.latency_ms", "500"), ("host.search_nodes_per_ms", "1000")]);
    std::fs::write(at.join("undoes.py"), UNDOES).unwrap();
    let assets = help::root().join("assets/guests");
    let script = "let rig = build(scene(\"bench.ron\"));\n\
                  let pass = rehearse(rig, calibrate(rig), cube_after(\"R U\"));\n\
                  expect(pass.solved, \"it ends up solved\");\n\
                  expect_near(pass.start_to_stop.search, 501.5, 0.000001, \"500 ms and 1,500 nodes\");\n";
    std::fs::write(at.join("own.rhai"), script).unwrap();
    let planner = format!("planner=python3 undoes.py '{}' \"U' R'\"", assets.display());
    let call = help::call(at, &["rehearse", "own.rhai", "--guest", &planner]);
    assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
    // The same planner where its plan solves nothing.
    let wrong = format!("planner=python3 undoes.py '{}' \"U R\"", assets.display());
    let call = help::call(at, &["--json", "rehearse", "own.rhai", "--guest", &wrong]);
    assert_eq!(call.code, 2, "nothing was executed, so there is no clock: {}", call.stderr);
    let document: Value = serde_json::from_str(&call.stdout).unwrap();
    assert_eq!(document["exit_code"], 2);
}

/// A drill with a guest stands beside the same trials by the built-in stages; one that fails fails
/// in each trial, and ends none of the others.
#[test]
fn drills_have_guests_beside_the_built_in_stages() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[]);
    let drill = "let drill = drill_rehearsals(scene(\"bench.ron\"), 3);\n\
                 expect_near(drill.built_in.solved, 3, 0, \"the built-in stages solve them\");\n";
    let call = |threads: &str, after: &str, planner: &str| {
        std::fs::write(at.join("drill.rhai"), format!("{drill}{after}")).unwrap();
        let words = ["rehearse", "drill.rhai", "--out", "out", "--guest", planner];
        let call = help::call(at, &[&words[..], &["--threads", threads]].concat());
        assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
        lines(at)
    };
    let added_up = |lines: &[Line]| {
        lines.iter().find_map(|line| match line {
            Line::DrillRehearsals(line) => Some(line.clone()),
            _ => None,
        })
    };
    let solved = "expect_near(drill.solved, 3, 0, \"so does the guest's plan\");\n";
    let planner = format!("planner={}", python("examples/planner.py"));
    let [one, two] = ["1", "2"].map(|threads| call(threads, solved, &planner));
    assert_eq!(one.0, two.0, "the same bytes, whatever the number of threads");
    let line = added_up(&one.1).unwrap();
    let luck = line.same_luck.unwrap().luck;
    assert_eq!((luck.both, luck.with_guests, luck.built_in, luck.neither), (3, 0, 0, 0));
    assert_eq!(line.guests.unwrap().planner.as_deref(), Some("layer by layer"));
    let failed = "expect_near(drill.guest_failed, 3, 0, \"it fails in each\");\n";
    let (_, fails) = call("2", failed, "planner=sh -c 'exit 3'");
    let line = added_up(&fails).unwrap();
    let luck = line.same_luck.unwrap().luck;
    assert_eq!((luck.both, luck.with_guests, luck.built_in, luck.neither), (0, 0, 3, 0));
    let faults = fails.iter().filter(|line| match line {
        Line::Trial(trial) => trial.guest_fault.as_ref().is_some_and(|f| f.fault.kind == "exited"),
        _ => false,
    });
    assert_eq!(faults.count(), 3);
}

#[test]
fn guests_in_the_call_are_read_strictly() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[]);
    for (guests, told) in [
        (&["--guest", "planner"][..], "ROLE=COMMAND"),
        (&["--guest", "judge=true"], "reader, planner, host, controller"),
        (&["--guest", "planner="], "at least one word"),
        (&["--guest", "planner='a"], "quotation mark"),
        (&["--guest", "host=a", "--guest", "host=b"], "--guest host: must be given once"),
    ] {
        let call = rehearse(at, "", guests);
        assert_eq!(call.code, 2, "{guests:?}");
        assert!(call.stderr.contains(told), "{told}: {}", call.stderr);
    }
}

/// A reader that is a guest reads the scans that the built-in ways read, and changes nothing of theirs.
#[test]
fn readers_are_compared_on_the_same_scans() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[]);
    let compare = "let bench = scene(\"bench.ron\");\n\
                   let readers = compare_readers(\"here\", bench, bench, 7);\n\
                   show_readers(\"ways to read\", [readers]);\n";
    let call = |after: &str, options: &[&str]| {
        std::fs::write(at.join("readers.rhai"), format!("{compare}{after}")).unwrap();
        let words = ["rehearse", "readers.rhai", "--out", "out", "--allow-none"];
        let call = help::call(at, &[&words[..], options].concat());
        assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
        let (text, lines) = lines(at);
        let line = lines.into_iter().find_map(|line| match line {
            Line::Readers(line) => Some(line),
            _ => None,
        });
        (text, line.unwrap(), format!("{}{}", call.stdout, call.stderr))
    };
    let reader = format!("reader={}", python("examples/reader.py"));
    let figures =
        "expect_near(readers.tally(\"Guest\").right, 7, 0, \"the guest reads them all\");\n";
    let [one, two] = ["1", "2"].map(|n| call(figures, &["--guest", &reader, "--threads", n]));
    assert_eq!(one.0, two.0, "the same bytes, whatever the number of threads");
    assert!(one.2.contains("waiting for the reader's answers: "), "{}", one.2);
    let alone = call("", &[]).1;
    let (guest, ours) = one.1.readers.split_last().unwrap();
    assert_eq!(ours, alone.readers);
    assert_eq!(
        (guest.method.as_str(), guest.guest.as_deref()),
        ("Guest", Some("nearest log-chromaticity"))
    );
    assert_eq!((guest.counts.right, guest.counts.facelets), (7, ours[0].counts.facelets));
    assert_eq!((one.1.guest_faults, &one.1.guest_fault), (Some(0), &None));
    // One that fails is refused in each scan.
    let refused = "expect_near(readers.tally(\"Guest\").refused, 7, 0, \"it cannot go on\");\n";
    let (_, line, told) = call(refused, &["--guest", "reader=sh -c 'echo no light >&2; exit 3'"]);
    assert_eq!(line.guest_faults, Some(7));
    assert_eq!(line.guest_fault.unwrap().fault.stderr, ["no light"]);
    assert!(told.contains("no light"), "{told}");
}

/// A guest that never answers costs a drill its limit in the first few trials only.
#[test]
fn guests_that_hang_end_a_drill_early() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[("guests.planner.start_limit_ms", "100")]);
    let drill = "let drill = drill_rehearsals(scene(\"bench.ron\"), 9);\n\
                 expect_near(drill.guest_failed, 5, 0, \"five have been tried\");\n\
                 expect_near(drill.trials, 5, 0, \"and no more\");\n";
    std::fs::write(at.join("drill.rhai"), drill).unwrap();
    let call = help::call(at, &["rehearse", "drill.rhai", "--guest", "planner=sleep 1000"]);
    assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
    assert!(call.stdout.contains("the other 4 trials are not played"), "{}", call.stdout);
}

/// Whoever is named and plays nowhere is told so, after all is kept.
#[test]
fn guests_that_play_nowhere_are_an_error() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[]);
    let text = "expect(build(scene(\"bench.ron\")).hidden.len() >= 0, \"nobody plays\");\n";
    std::fs::write(at.join("alone.rhai"), text).unwrap();
    let call = help::call(at, &["rehearse", "alone.rhai", "--out", "out", "--guest", "host=true"]);
    assert_eq!(call.code, 2, "{}{}", call.stdout, call.stderr);
    assert!(call.stderr.contains("a guest is named as host"), "{}", call.stderr);
    assert!(at.join("out/ledger.jsonl").exists());
}

/// The axes alone: a host that starts each beat while the last face is up to 40° off its stop jams
/// in the very trials and ways in which the built-in rule with that angle does, to the last digit of
/// its table.
#[test]
fn a_bad_hand_over_in_c_jams_as_the_same_rule_inside_does() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[]);
    let host = format!("host={} --too-early", compiled("host", at));
    let drill = |options: &[&str]| {
        let words = ["drill-axes", "bench.ron", "--trials", "60", "--out", "out"];
        let call = help::call(at, &[&words[..], options].concat());
        (call, std::fs::read_to_string(at.join("out/drill_axes.csv")))
    };
    let rule = [
        "--plan",
        "R U",
        "--plan",
        "R2 U",
        "--set",
        "handover.policy=Release",
        "--set",
        "handover.release_angle_deg=40",
        "--set",
        "drive.overhead_ms=0",
    ];
    let (call, table) = drill(&[&rule[..], &["--guest", &host]].concat());
    assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
    let table = table.unwrap();
    let of = |player: &str| -> Vec<String> {
        let own = table.lines().filter_map(|line| line.strip_prefix(player));
        own.map(str::to_owned).collect()
    };
    let (ours, guests) = (of("Dryturn,"), of("guests,"));
    assert_eq!((ours.len(), &ours), (60, &guests));
    let jams = ours.iter().filter(|line| line.contains(",jammed,")).count();
    assert!((30..60).contains(&jams), "{jams} of 60");
    // A reader has nothing to do there, and a guest that dies stops its execution.
    let (call, _) = drill(&["--guest", "reader=true"]);
    assert_eq!(call.code, 2, "{}", call.stdout);
    assert!(call.stderr.contains("must be host or controller"), "{}", call.stderr);
    let (call, _) = drill(&["--guest", "controller=sh -c 'echo no light >&2; exit 3'"]);
    assert_eq!(call.code, 1, "{}{}", call.stdout, call.stderr);
    for told in ["could not go on in 60 of 60", "no light", "who plays = guests nothing completes"]
    {
        assert!(call.stderr.contains(told), "{told}: {}", call.stderr);
    }
}
