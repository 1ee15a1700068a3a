//! Scripts that mean harm: whatever one does, it ends in time, within its memory, with a code
//! of its own and one line, and never by a signal or as our fault.

mod mangled;
mod texts;
mod verbs;

use std::path::Path;

use crate::help;
use crate::measured::{End, measured};

/// A project with small scenes, and nothing else.
fn project() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let scenes = folder.path().join("scenes");
    std::fs::create_dir(&scenes).unwrap();
    for name in ["foyer_morning", "foyer_evening", "workbench"] {
        let mut file = help::scene(name).file().clone();
        for camera in &mut file.cameras {
            *camera = camera.with_pixels([160, 120]);
            camera.samples_px = 1;
        }
        let small = help::scene(name).with_file(file).unwrap();
        std::fs::write(scenes.join(format!("{name}.ron")), small.to_ron()).unwrap();
    }
    std::fs::create_dir(folder.path().join("scripts")).unwrap();
    folder
}

/// Most memory and time of a script in these tests.
#[derive(Clone, Copy)]
struct Given {
    memory_mb: u64,
    timeout_s: u64,
}

/// Runs a script's text within limits.
fn run(project: &Path, text: &[u8], given: &Given) -> End {
    let script = project.join("scripts/s.rhai");
    std::fs::write(&script, text).unwrap();
    let mut command = help::program();
    command.current_dir(project).args(["rehearse", "scripts/s.rhai", "--out", "out"]);
    command.arg(format!("--memory={}MB", given.memory_mb));
    command.arg(format!("--timeout={}", given.timeout_s));
    measured(command)
}

/// What may not be.
fn trouble(end: &End, given: &Given) -> Option<String> {
    let most_kb = given.memory_mb * 1_000_000 / 1024 * 11 / 10;
    let lines = end.stderr.lines().filter(|line| line.starts_with("dryturn: ")).count();
    if !matches!(end.code, Some(0..=2)) {
        Some(format!("ended with {:?}", end.code))
    } else if end.peak_kb > most_kb {
        Some(format!("took {} MB", end.peak_kb / 1000))
    } else if end.wall_s > given.timeout_s as f64 + 4.0 {
        Some(format!("took {:.1} s", end.wall_s))
    } else if end.code == Some(2) && lines != 1 {
        Some(format!("said {lines} lines"))
    } else {
        None
    }
}

/// Runs many; prints what they came to, and fails where one did what it may not.
fn run_all(texts: &[(String, Vec<u8>)], given: &Given) {
    let project = project();
    let mut troubles = Vec::new();
    let (mut codes, mut slowest, mut largest) = ([0; 3], (0.0, String::new()), (0, String::new()));
    for (name, text) in texts {
        let end = run(project.path(), text, given);
        if let Some(code) = end.code.and_then(|code| codes.get_mut(code as usize)) {
            *code += 1;
        }
        if end.wall_s > slowest.0 {
            slowest = (end.wall_s, name.clone());
        }
        if end.peak_kb > largest.0 {
            largest = (end.peak_kb, name.clone());
        }
        if let Some(trouble) = trouble(&end, given) {
            let shown = String::from_utf8_lossy(text);
            troubles.push(format!("{name}: {trouble}: {}\n{shown}", end.stderr.trim_end()));
            println!("{}", troubles.last().unwrap());
        }
        let _ = std::fs::remove_dir_all(project.path().join("out"));
    }
    println!(
        "{} scripts: {} passed, {} expected what did not hold, {} refused; slowest {:.1} s ({}); \
         largest {} MB ({})",
        texts.len(),
        codes[0],
        codes[1],
        codes[2],
        slowest.0,
        slowest.1,
        largest.0 * 1024 / 1_000_000,
        largest.1
    );
    assert!(troubles.is_empty(), "{} of {}:\n{}", troubles.len(), texts.len(), troubles.join("\n"));
}

/// A few of each kind; the long form has all.
#[test]
fn hostile_scripts_end_within_their_limits() {
    let all = texts::all();
    assert!(all.len() >= 250, "{}", all.len());
    let quick: Vec<_> = all.iter().filter(|text| text.quick).map(texts::Hostile::bytes).collect();
    assert!(quick.len() >= 20);
    run_all(&quick, &Given { memory_mb: 256, timeout_s: 2 });
}

/// `cargo test --release -p dryturn-cli --test dryturn -- --ignored --nocapture all_hostile`.
#[test]
#[ignore = "takes many minutes"]
fn all_hostile_scripts_end_within_their_limits() {
    let only = std::env::var("DRYTURN_HOSTILE").unwrap_or_default();
    let all = texts::all();
    let chosen: Vec<_> =
        all.iter().map(texts::Hostile::bytes).filter(|(name, _)| name.contains(&only)).collect();
    let timeout_s = help::setting("DRYTURN_HOSTILE_S", 10);
    run_all(&chosen, &Given { memory_mb: 256, timeout_s });
}

#[test]
fn some_mangled_scripts_end_within_their_limits() {
    let texts: Vec<_> = (0..8).map(|number| mangled::script(7, number)).collect();
    run_all(&texts, &Given { memory_mb: 256, timeout_s: 1 });
}

/// `DRYTURN_MANGLED=2000 DRYTURN_MANGLED_SEED=1`.
#[test]
#[ignore = "takes many minutes"]
fn mangled_scripts_end_within_their_limits() {
    let (count, seed) =
        (help::setting("DRYTURN_MANGLED", 2000), help::setting("DRYTURN_MANGLED_SEED", 1));
    let texts: Vec<_> = (0..count).map(|number| mangled::script(seed, number)).collect();
    run_all(&texts, &Given { memory_mb: 256, timeout_s: 1 });
}

/// Who uses up what is told, with the verb and its line.
#[test]
fn what_was_used_up_is_said() {
    let project = project();
    let given = Given { memory_mb: 256, timeout_s: 1 };
    for (text, said) in [
        (
            "let c = random_cube(1);\n\nplan(c, 1000000000);",
            "took its 1 s (--timeout); it was in plan(…) at line 3",
        ),
        (
            "let f = scene(\"../scenes/workbench.ron\");\nsurvey(f, 100000);",
            "it was in survey(…) at line 2",
        ),
        (
            "let a = [0].map(|x| { let n = 0; while true { n += 1; } n });",
            "more than 5000000 operations",
        ),
        (
            "let kept = []; let f = build(scene(\"../scenes/workbench.ron\").resized(1024, 1024));\n\
          loop { kept.push(f.scan(solved())); }",
            "256 MB of memory (--memory",
        ),
        (
            "fn expect(a, b) {} expect(false, \"x\");",
            "s.rhai:1:1: the script's own function expect would hide",
        ),
        ("expect(true, \"fine\"); /* expect(false, \"not\");", "is not closed"),
    ] {
        // Where it is not the time that is used up, there is plenty of it.
        let timed = said.contains("--timeout") || said.contains("it was in");
        let timeout_s = if timed { given.timeout_s } else { 60 };
        let end = run(project.path(), text.as_bytes(), &Given { timeout_s, ..given });
        assert_eq!(end.code, Some(2), "{text}: {}", end.stderr);
        assert!(end.stderr.contains(said), "{text}: {}", end.stderr);
        assert!(!project.path().join("out").exists(), "{text}");
    }
    let nothing = run(project.path(), b"note(1);", &given);
    assert_eq!(nothing.code, Some(1));
    assert!(nothing.stdout.contains("--allow-none"), "{}", nothing.stdout);
    let empty = run(project.path(), b"", &given);
    assert_eq!(empty.code, Some(1));
}

/// A variable never hides a verb.
#[test]
fn a_variable_hides_no_verb() {
    let text = "let expect = |held, message| true; expect(false, \"said\"); let scan = 1;";
    let end = run(project().path(), text.as_bytes(), &Given { memory_mb: 256, timeout_s: 5 });
    assert_eq!(end.code, Some(1), "{}", end.stderr);
    assert!(end.stdout.contains("FAILED"), "{}", end.stdout);
}
