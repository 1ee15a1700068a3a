//! Output that is whole or not there: kills at every operation on the disk, full and read-only
//! disks, signals, and works that go on where they stopped.
//!
//! The short forms run with the other tests; the long ones are ignored, and print their counts:
//! `cargo test --release -p dryturn-cli --test dryturn -- --ignored whole:: --nocapture`.

/// Found before the work begins.
mod first;
/// Killed at each operation, at random moments, and disks that fail.
mod killed;
/// Ended by signals, and taken up again.
mod signalled;

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Output, Stdio};

use sha2::{Digest as _, Sha256};

use crate::help;

/// Files by name, hidden ones included.
type Files = BTreeMap<String, Vec<u8>>;

/// A script that leaves some files, all of them different for each word.
fn script(word: &str) -> String {
    format!(
        "save_text(\"a/{word}.txt\", \"{word}\");\nsave_text(\"both.txt\", \"{word}\");\n\
         note(\"{word}\");\nexpect(true, \"{word}\");\n"
    )
}

fn write(at: &Path, files: &Files) {
    for (name, bytes) in files {
        let path = at.join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }
}

/// What stands in its place: all but what the program hides.
fn shown(at: &Path) -> Files {
    if !at.exists() {
        return Files::new();
    }
    let hidden = |name: &str| name.starts_with(".dryturn-");
    let mut files = help::contents(at);
    files.retain(|name, _| !hidden(name) || name == ".dryturn-files");
    files
}

/// What the program hides beside its listing.
fn hidden(at: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(at).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    names.filter(|name| name.starts_with(".dryturn-") && name != ".dryturn-files").collect()
}

/// Whether every file of these is one of those.
fn part_of(some: &Files, all: &Files) -> bool {
    some.iter().all(|(name, bytes)| all.get(name) == Some(bytes))
}

/// Runs the program with a fault.
fn with_fault(at: &Path, arguments: &[&str], fault: &str) -> Output {
    let mut program = help::program();
    program.current_dir(at).args(arguments).env("DRYTURN_TEST_FAULT", fault);
    program.stdin(Stdio::null()).output().unwrap()
}

/// A command that writes to the folder `out`, and what it leaves there.
struct Case {
    name: &'static str,
    arguments: Vec<String>,
    /// What was there before, by another command line.
    old: Files,
    new: Files,
}

impl Case {
    /// `old` and `new` are the arguments before and now, without `--out`.
    fn of(at: &Path, name: &'static str, old: &[&str], new: &[&str]) -> Self {
        let leaves = |arguments: &[&str], out: &str| {
            let call = help::call(at, &[arguments, &["--out", out]].concat());
            assert!(call.code <= 1, "{name}: {}", call.stderr);
            assert_eq!(hidden(&at.join(out)), [""; 0], "{name}");
            let files = help::contents(&at.join(out));
            std::fs::remove_dir_all(at.join(out)).unwrap();
            files
        };
        // Where names stay the same, the new bytes are those of the new command in an empty
        // folder.
        let (old, new_files) = (leaves(old, "old"), leaves(new, "new"));
        let arguments = [new, &["--out", "out"]].concat().into_iter().map(str::to_owned).collect();
        Self { name, arguments, old, new: new_files }
    }

    fn arguments(&self) -> Vec<&str> {
        self.arguments.iter().map(String::as_str).collect()
    }

    /// The folder as it was before.
    fn prepare(&self, at: &Path) {
        let _ = std::fs::remove_dir_all(at.join("out"));
        write(&at.join("out"), &self.old);
    }

    /// Nothing is mixed: what stands there is of one run; all of it where the listing is.
    fn check_unmixed(&self, at: &Path, when: &str) {
        let name = self.name;
        let shown = shown(&at.join("out"));
        let (old, new) = (part_of(&shown, &self.old), part_of(&shown, &self.new));
        assert!(old || new, "{name}, {when}: mixed: {:?}", shown.keys());
        if shown.contains_key(".dryturn-files") {
            let whole = if old { &self.old } else { &self.new };
            assert!(shown == *whole, "{name}, {when}: not whole: {:?}", shown.keys());
        }
    }

    /// Another command opens the folder: after it all is old or all is new; whether it is new.
    fn check_opened(&self, at: &Path, when: &str) -> bool {
        let name = self.name;
        let call = help::call(at, &["plan", "R U", "--out", "out"]);
        assert_eq!(call.code, 0, "{name}, {when}: wedged: {}", call.stderr);
        let mut found = shown(&at.join("out"));
        assert!(found.remove("plan.json").is_some());
        let listing = |files: &mut Files| files.remove(".dryturn-files").is_some();
        let (mut old, mut new) = (self.old.clone(), self.new.clone());
        assert!(listing(&mut found) && listing(&mut old) && listing(&mut new));
        assert!(found == old || found == new, "{name}, {when}: {:?}", found.keys());
        std::fs::remove_file(at.join("out/plan.json")).unwrap();
        found == new
    }

    /// The same call again ends well, with all that it leaves in an empty folder.
    fn check_again(&self, at: &Path, when: &str) {
        let name = self.name;
        let call = help::call(at, &self.arguments());
        assert!(call.code <= 1, "{name}, {when}: wedged: {}", call.stderr);
        let out = at.join("out");
        let (mut found, mut new) = (shown(&out), self.new.clone());
        found.remove(".dryturn-files");
        new.remove(".dryturn-files");
        assert!(found == new, "{name}, {when}: {:?}", found.keys());
        assert_eq!(hidden(&out), [""; 0], "{name}, {when}");
    }
}

/// The scene of the foyer.
fn foyer() -> String {
    help::root().join("scenes/foyer_morning.ron").display().to_string()
}

/// A script before and after it was changed.
fn rehearse(at: &Path) -> Case {
    std::fs::create_dir_all(at.join("before")).unwrap();
    std::fs::write(at.join("before/s.rhai"), script("old")).unwrap();
    std::fs::write(at.join("s.rhai"), script("new")).unwrap();
    Case::of(at, "rehearse", &["rehearse", "before/s.rhai"], &["rehearse", "s.rhai"])
}

/// A drill of two seeds.
fn drill(at: &Path, trials: &str) -> Case {
    let scene = foyer();
    let all =
        |seed| ["drill-axes", scene.as_str(), "--trials", trials, "--plan", "R", "--seed", seed];
    Case::of(at, "drill", &all("1"), &all("2"))
}

fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}
