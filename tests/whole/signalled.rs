//! Ended by signals, and taken up again.
#![cfg(unix)]

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use dryturn_units::noise::Seed;
use serde_json::Value as Json;

use super::{foyer, hidden, shown};
use crate::help;

/// Ends within this.
const AT_MOST: Duration = Duration::from_secs(2);

fn begin(at: &Path, arguments: &[&str]) -> Child {
    let mut program = help::program();
    program.current_dir(at).args(arguments).stdout(Stdio::piped()).stderr(Stdio::piped());
    program.spawn().unwrap()
}

/// Sends a signal; how the program ended, and after how long.
fn signal(running: Child, name: &str) -> (help::Call, Duration) {
    let sent = Command::new("kill").args([name, &running.id().to_string()]).status().unwrap();
    assert!(sent.success());
    let begun = Instant::now();
    let output = running.wait_with_output().unwrap();
    (help::call_of(output), begun.elapsed())
}

/// Ends a call again and again until it is done, each time a little later: what is there must be
/// looked through first. How often it was ended, and the longest that took.
fn ended_until_done(at: &Path, arguments: &[&str], mut pause: Duration) -> (usize, Duration) {
    let (mut ended, mut longest) = (0, Duration::ZERO);
    loop {
        let mut running = begin(at, arguments);
        std::thread::sleep(pause);
        pause = pause.mul_f64(1.1);
        if let Some(status) = running.try_wait().unwrap() {
            assert!(matches!(status.code(), Some(0 | 1)), "{status}");
            return (ended, longest);
        }
        let (call, took) = signal(running, if ended % 2 == 0 { "-INT" } else { "-TERM" });
        if call.code <= 1 {
            return (ended, longest);
        }
        let wanted = if ended % 2 == 0 { 130 } else { 143 };
        assert_eq!(call.code, wanted, "{}", call.stderr);
        let lines = call.stderr.lines().filter(|line| !line.contains("took ")).count();
        assert_eq!(lines, 1, "{}", call.stderr);
        assert!(call.stderr.contains("ended by SIG"), "{}", call.stderr);
        assert!(took < AT_MOST, "{took:?}");
        (ended, longest) = (ended + 1, longest.max(took));
        let left = hidden(&at.join("out"));
        assert!(!left.iter().any(|n| n == ".dryturn-lock" || n == ".dryturn-partial"), "{left:?}");
        assert!(ended < 60, "no progress");
    }
}

#[test]
fn a_drill_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = foyer();
    let drill = |out| {
        let compared = "handover.policy=Settle,Predict";
        let all = ["drill-axes", scene.as_str(), "--trials", "1500", "--plan", "R U F"];
        [&all[..], &["--compare", compared, "--out", out]].concat()
    };
    let (ended, _) = ended_until_done(at, &drill("out"), Duration::from_millis(400));
    assert!(ended > 0, "it was too quick");
    let whole = help::call(at, &drill("whole"));
    assert!(whole.code <= 1, "{}", whole.stderr);
    assert!(help::contents(&at.join("out")) == help::contents(&at.join("whole")));
}

/// A record of another request is refused, a damaged piece is made again.
#[test]
fn records_are_checked() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = foyer();
    let drill = |out, seed| {
        let all =
            ["drill-axes", scene.as_str(), "--trials", "3000", "--plan", "R U F", "--seed", seed];
        [&all[..], &["--out", out]].concat()
    };
    let running = begin(at, &drill("out", "1"));
    let begun = Instant::now();
    while !at.join("out/.dryturn-drill/000003").exists() {
        assert!(begun.elapsed() < Duration::from_secs(60));
        std::thread::sleep(Duration::from_millis(2));
    }
    assert_eq!(signal(running, "-INT").0.code, 130);
    let other = help::call(at, &drill("out", "2"));
    assert_eq!(other.code, 2);
    // What differs, and each way out.
    for said in [
        "out: holds an unfinished drill of another request: seed 1 there, 2 here. ",
        "go on with that one, give its call again",
        "delete the folder out/.dryturn-drill;",
        "give this one another --out",
    ] {
        assert!(other.stderr.contains(said), "{said:?}: {}", other.stderr);
    }
    let record = at.join("out/.dryturn-drill");
    let cut = |name: &str, to: usize| {
        let bytes = std::fs::read(record.join(name)).unwrap();
        std::fs::write(record.join(name), &bytes[..to.min(bytes.len())]).unwrap();
    };
    cut("000000", 100);
    cut("000001", 0);
    let mut bytes = std::fs::read(record.join("000002")).unwrap();
    let last = bytes.len() - 1;
    bytes[last] ^= 1;
    std::fs::write(record.join("000002"), bytes).unwrap();
    assert!(help::call(at, &drill("out", "1")).code <= 1);
    assert!(help::call(at, &drill("whole", "1")).code <= 1);
    assert!(help::contents(&at.join("out")) == help::contents(&at.join("whole")));
}

/// What was finished is kept, the rest is marked, and the document is printed.
#[test]
fn a_suite_keeps_what_is_finished() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("one.rhai"), "save_text(\"x\", \"x\"); expect(true, \"one\");").unwrap();
    std::fs::write(at.join("two.rhai"), "expect(true, \"two\"); loop { let x = [1].map(|a| a); }")
        .unwrap();
    std::fs::write(at.join("three.rhai"), "expect(true, \"three\");").unwrap();
    let all = ["rehearse", "one.rhai", "two.rhai", "three.rhai", "--out", "out", "--json"];
    let running = begin(at, &all);
    let begun = Instant::now();
    while !at.join("out/one/report.html").exists() {
        assert!(begun.elapsed() < Duration::from_secs(60));
        std::thread::sleep(Duration::from_millis(2));
    }
    std::thread::sleep(Duration::from_millis(100));
    let (call, took) = signal(running, "-INT");
    assert_eq!(call.code, 130, "{}", call.stderr);
    assert!(took < AT_MOST, "{took:?}");
    let document: Json = serde_json::from_str(&call.stdout).unwrap();
    assert_eq!(document["exit_code"], 130);
    assert_eq!(document["scripts"][0]["failed"], 0);
    assert_eq!(document["scripts"][1]["unfinished"], true);
    assert_eq!(document["scripts"][2]["not_run"], true);
    let ledger = std::fs::read_to_string(at.join("out/two/ledger.jsonl")).unwrap();
    let last: Json = serde_json::from_str(ledger.lines().last().unwrap()).unwrap();
    assert_eq!((&last["stage"], &last["unfinished"]), (&"end".into(), &true.into()));
    let report = std::fs::read_to_string(at.join("out/two/report.html")).unwrap();
    assert!(report.contains("UNFINISHED") && report.contains("two"));
    let hash = super::hash(ledger.as_bytes());
    assert!(report.contains(&format!("data-ledger-sha256=\"{hash}\"")));
    assert!(!at.join("out/three").exists());
    assert_eq!(hidden(&at.join("out/one")), [".dryturn-finished"]);
    assert_eq!(hidden(&at.join("out/two")), [""; 0]);
}

/// A suite that was ended goes on where it was: what is finished is not run again, unless what it
/// follows from is another now.
#[test]
fn a_suite_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::copy(foyer(), at.join("rig.ron")).unwrap();
    let reads = "let s = scene(\"rig.ron\"); note(s.name); expect(s.name != \"\", \"a name\"); ";
    let slow = "let d = drill_axes(s, 1500, plan_of(\"R U\")); note(d.time_ms(0.5));";
    for (name, own) in [("one", ""), ("two", "save_text(\"x\", \"x\");"), ("three", slow)] {
        std::fs::write(at.join(format!("{name}.rhai")), format!("{reads}{own}")).unwrap();
    }
    let suite = |out| ["rehearse", "one.rhai", "two.rhai", "three.rhai", "--out", out];
    let whole = help::call(at, &suite("whole"));
    assert_eq!(whole.code, 0, "{}", whole.stderr);
    let broken_off = || {
        let running = begin(at, &suite("out"));
        let begun = Instant::now();
        while !at.join("out/two/.dryturn-finished/script").exists() {
            assert!(begun.elapsed() < Duration::from_secs(60));
            std::thread::sleep(Duration::from_millis(1));
        }
        let call = signal(running, "-INT").0;
        assert_eq!(call.code, 130, "{}", call.stderr);
        assert!(call.stderr.contains("called again, it goes on"), "{}", call.stderr);
    };
    // Called again, with these of the first two kept.
    let goes_on = |kept: [bool; 2]| {
        let call = help::call(at, &suite("out"));
        assert_eq!(call.code, 0, "{}", call.stderr);
        for (name, kept) in ["one", "two"].into_iter().zip(kept) {
            let said = format!("{name}.rhai: was finished in the call that was ended; kept");
            assert_eq!(call.stderr.contains(&said), kept, "{name}: {}", call.stderr);
        }
        assert_eq!(call.stdout.replace("out/", "whole/"), whole.stdout);
        assert!(shown(&at.join("out")) == shown(&at.join("whole")));
        for name in ["one", "two", "three"] {
            assert_eq!(hidden(&at.join("out").join(name)), [""; 0]);
        }
    };
    broken_off();
    goes_on([true, true]);
    // Done: nothing is kept for another call.
    goes_on([false, false]);
    // A file that is not as it was left.
    broken_off();
    std::fs::write(at.join("out/two/ledger.jsonl"), "{}").unwrap();
    std::fs::remove_file(at.join("out/two/.dryturn-files")).unwrap();
    let refused = help::call(at, &suite("out"));
    assert_eq!(refused.code, 2, "{}", refused.stderr);
    std::fs::remove_dir_all(at.join("out/two")).unwrap();
    goes_on([true, false]);
    // A damaged record, and another script.
    broken_off();
    std::fs::write(at.join("out/one/.dryturn-finished/script"), "damaged").unwrap();
    let text = std::fs::read_to_string(at.join("two.rhai")).unwrap();
    std::fs::write(at.join("two.rhai"), text.replace("\"x\");", "\"x\"); ")).unwrap();
    let again = help::call(at, &suite("whole"));
    assert_eq!(again.code, 0);
    goes_on([false, false]);
    // Another scene: nothing of it holds.
    broken_off();
    let scene = std::fs::read_to_string(at.join("rig.ron")).unwrap();
    std::fs::write(at.join("rig.ron"), format!("{scene}\n// moved\n")).unwrap();
    let again = help::call(at, &suite("whole"));
    assert_eq!(again.code, 0);
    goes_on([false, false]);
}

/// A work that looks at nothing on its way is ended too.
#[test]
fn a_plan_is_ended() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scramble = "R U2 F' D L B2 U' R2 F D2 L' B U R2 D' F2 L B' U2 R";
    let plan = ["plan", scramble, "--nodes", "100000000000", "--objective", "turns"];
    let running = begin(at, &[&plan[..], &["--tables", "compact", "--out", "out"]].concat());
    std::thread::sleep(Duration::from_millis(700));
    let (call, took) = signal(running, "-TERM");
    assert_eq!(call.code, 143, "{}", call.stderr);
    assert_eq!(call.stderr.lines().count(), 1, "{}", call.stderr);
    assert!(took < AT_MOST, "{took:?}");
    assert!(!at.join("out").exists());
}

/// Long: a set and a tuning are ended again and again, and come to the bytes of unbroken ones.
#[test]
#[ignore = "minutes"]
fn sets_and_tuning_go_on() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = foyer();
    let size = ["--size", "320x240", "--samples", "4", "--scans", "40"];
    let frames = |out| [&["frames", scene.as_str(), "--out", out], &size[..]].concat();
    let brief = ["--candidates=16", "--proof=500", "--jam-rate=0.05"];
    let tune = |out| [&["tune", scene.as_str(), "--out", out], &brief[..]].concat();
    for (name, ended, whole) in
        [("frames", frames("out"), frames("whole")), ("tune", tune("out"), tune("whole"))]
    {
        for out in ["out", "whole"] {
            let _ = std::fs::remove_dir_all(at.join(out));
        }
        let (count, longest) = ended_until_done(at, &ended, Duration::from_millis(1500));
        assert!(help::call(at, &whole).code <= 1);
        assert!(shown(&at.join("out")) == shown(&at.join("whole")), "{name}");
        println!("{name}: ended {count} times, {longest:?} at the longest; the same bytes");
    }
}

/// Long: 30 random moments of a drill of 100,000 and of a suite of three scripts; each is
/// then called again.
#[test]
#[ignore = "minutes"]
fn thirty_moments() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = foyer();
    let drill = |out| {
        let all = ["drill-axes", scene.as_str(), "--trials", "100000", "--plan", "R"];
        [&all[..], &["--out", out]].concat()
    };
    for name in ["one", "two", "three"] {
        let text = format!(
            "let s = scene(\"foyer_morning.ron\");\nlet d = drill_axes(s, 1500, plan_of(\"R U\"));\n\
             note(d.time_ms(0.5)); save_text(\"{name}.txt\", \"{name}\");\nexpect(true, \"{name}\");\n"
        );
        std::fs::write(at.join(format!("{name}.rhai")), text).unwrap();
    }
    std::fs::copy(&scene, at.join("foyer_morning.ron")).unwrap();
    let suite = |out| ["rehearse", "one.rhai", "two.rhai", "three.rhai", "--out", out].to_vec();
    let mut noise = Seed::new(6).stream("signals", 0, 0);
    for (name, out, whole) in
        [("drill", drill("out"), drill("whole")), ("suite", suite("out"), suite("whole"))]
    {
        for out in ["out", "whole"] {
            let _ = std::fs::remove_dir_all(at.join(out));
        }
        let begun = Instant::now();
        assert!(help::call(at, &whole).code <= 1);
        let (whole_s, whole) = (begun.elapsed().as_secs_f64(), shown(&at.join("whole")));
        let (mut longest, mut ended) = (Duration::ZERO, 0);
        let mut moments: Vec<f64> = (0..30).map(|_| noise.uniform() * whole_s).collect();
        moments.sort_by(f64::total_cmp);
        for moment in moments {
            let _ = std::fs::remove_dir_all(at.join("out"));
            let running = begin(at, &out);
            std::thread::sleep(Duration::from_secs_f64(moment));
            let (call, took) = signal(running, "-INT");
            if call.code == 130 {
                ended += 1;
                assert!(took < AT_MOST, "{name}: {took:?}");
                longest = longest.max(took);
            }
            let again = help::call(at, &out);
            assert!(again.code <= 1, "{name}: {}", again.stderr);
            assert!(shown(&at.join("out")) == whole, "{name} at {moment} s");
        }
        println!(
            "{name} of {whole_s:.1} s: ended at {ended} of 30 moments, {longest:?} at the longest"
        );
    }
}
