//! Output folders that cannot, or must not, be written.

use std::process::Stdio;

use super::refused;
use crate::help;

const SCRIPT: &str = "save_text(\"a/x.txt\", \"new\"); expect(true, \"fine\");";

fn prepared() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("s.rhai"), SCRIPT).unwrap();
    folder
}

#[test]
fn that_is_a_file() {
    let folder = prepared();
    std::fs::write(folder.path().join("out"), "a file").unwrap();
    let call = help::call(folder.path(), &["rehearse", "--allow-none", "s.rhai", "--out", "out"]);
    refused("file as folder", &call, &["out"]);
    assert_eq!(std::fs::read_to_string(folder.path().join("out")).unwrap(), "a file");
}

#[cfg(target_os = "linux")]
#[test]
fn that_cannot_be_written() {
    // A place where even the superuser cannot make a folder.
    let call = help::call(
        prepared().path(),
        &["rehearse", "--allow-none", "s.rhai", "--out", "/proc/dryturn"],
    );
    refused("read-only folder", &call, &["/proc/dryturn"]);
}

/// A limit on the size of files stands for a full disk: the earlier results
/// must survive, and nothing new may be left.
#[cfg(unix)]
#[test]
fn that_is_full() {
    let folder = prepared();
    let at = folder.path();
    assert_eq!(help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]).code, 0);
    let before = std::fs::read(at.join("out/report.html")).unwrap();
    let long = "let t = \"\"; for i in 0..9000 { t += \"0123456789\"; } save_text(\"big\", t);";
    std::fs::write(at.join("s.rhai"), long).unwrap();
    let shell = format!(
        "trap '' XFSZ; ulimit -f 16; exec '{}' rehearse s.rhai --out out",
        env!("CARGO_BIN_EXE_dryturn")
    );
    let output =
        std::process::Command::new("sh").current_dir(at).args(["-c", &shell]).output().unwrap();
    refused("full disk", &help::call_of(output), &["out/big", "full"]);
    assert_eq!(std::fs::read(at.join("out/report.html")).unwrap(), before);
    assert!(at.join("out/a/x.txt").exists() && !at.join("out/big").exists());
    assert!(!at.join("out/.dryturn-partial").exists());
}

#[cfg(unix)]
#[test]
fn with_a_symbolic_link_out_of_it() {
    let folder = prepared();
    let at = folder.path();
    std::fs::create_dir_all(at.join("out")).unwrap();
    std::fs::create_dir_all(at.join("elsewhere")).unwrap();
    std::os::unix::fs::symlink(at.join("elsewhere"), at.join("out/a")).unwrap();
    let call = help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]);
    refused("link out of the folder", &call, &["out/a", "symbolic link"]);
    assert_eq!(std::fs::read_dir(at.join("elsewhere")).unwrap().count(), 0);
    assert!(!at.join("out/report.html").exists());
}

/// Two runs in one folder: one does its work, the other is told to wait.
#[test]
fn that_two_runs_share() {
    let folder = prepared();
    let at = folder.path();
    let slow = "let n = 0; for i in 0..400000 { n += 1; } save_text(\"x\", \"x\");";
    std::fs::write(at.join("slow.rhai"), slow).unwrap();
    let arguments = ["rehearse", "--allow-none", "slow.rhai", "--out", "out"];
    // Holding the lock ourselves makes the second run's refusal certain.
    std::fs::create_dir_all(at.join("out")).unwrap();
    let lock = std::fs::File::create(at.join("out/.dryturn-lock")).unwrap();
    lock.lock().unwrap();
    let call = help::call(at, &arguments);
    refused("shared folder", &call, &["out", "another run"]);
    // Unlocked by name: a child that another test is just starting may still
    // hold a copy of the handle.
    lock.unlock().unwrap();
    let spawn = || {
        let mut program = help::program();
        program.current_dir(at).args(arguments);
        program.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let (first, second) = (spawn(), spawn());
    let codes = [first, second].map(|run| run.wait_with_output().unwrap().status.code());
    assert!(codes.contains(&Some(0)), "{codes:?}");
    assert!(codes.iter().all(|code| matches!(code, Some(0 | 2))), "{codes:?}");
    assert_eq!(std::fs::read_to_string(at.join("out/x")).unwrap(), "x");
}

/// What others put there is neither replaced nor deleted, whatever a listing says.
#[test]
fn with_files_of_others() {
    let folder = prepared();
    let at = folder.path();
    std::fs::create_dir(at.join("out")).unwrap();
    std::fs::write(at.join("out/report.html"), "mine").unwrap();
    let call = help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]);
    refused("file of another", &call, &["out/report.html", "not written by this program"]);
    assert_eq!(std::fs::read_to_string(at.join("out/report.html")).unwrap(), "mine");
    assert!(!at.join("out/a").exists());
    // A file that was changed after a run wrote it is not deleted by the next.
    std::fs::remove_file(at.join("out/report.html")).unwrap();
    assert_eq!(help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]).code, 0);
    std::fs::write(at.join("out/a/x.txt"), "edited by hand").unwrap();
    std::fs::write(at.join("s.rhai"), "note(1);").unwrap();
    assert_eq!(help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]).code, 0);
    assert_eq!(std::fs::read_to_string(at.join("out/a/x.txt")).unwrap(), "edited by hand");
}

/// Other commands add their document and leave a rehearsal's results alone.
#[test]
fn shared_with_another_command() {
    let folder = prepared();
    let at = folder.path();
    assert_eq!(help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]).code, 0);
    let ledger = std::fs::read(at.join("out/ledger.jsonl")).unwrap();
    assert_eq!(help::call(at, &["plan", "R U", "--out", "out"]).code, 0);
    assert_eq!(help::call(at, &["check", "none.ron", "--out", "out"]).code, 2);
    assert_eq!(std::fs::read(at.join("out/ledger.jsonl")).unwrap(), ledger);
    assert!(at.join("out/plan.json").is_file() && at.join("out/a/x.txt").is_file());
}

/// Folders made on the way to a failing run's output are taken away again.
#[test]
fn made_for_nothing() {
    let folder = prepared();
    let at = folder.path();
    std::fs::write(at.join("s.rhai"), "fly();").unwrap();
    let call = help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "new/deep/er"]);
    refused("nothing came of it", &call, &["fly"]);
    assert!(!at.join("new").exists());
}

/// A failing run leaves the results of the one before untouched.
#[test]
fn with_earlier_results() {
    let folder = prepared();
    let at = folder.path();
    assert_eq!(help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]).code, 0);
    let ledger = std::fs::read(at.join("out/ledger.jsonl")).unwrap();
    std::fs::write(at.join("s.rhai"), "save_text(\"a/x.txt\", \"newer\"); fly();").unwrap();
    refused(
        "fails late",
        &help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]),
        &["fly"],
    );
    assert_eq!(std::fs::read(at.join("out/ledger.jsonl")).unwrap(), ledger);
    assert_eq!(std::fs::read_to_string(at.join("out/a/x.txt")).unwrap(), "new");
}
