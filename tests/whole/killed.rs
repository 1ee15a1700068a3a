//! Killed at each operation, at random moments, and disks that fail.

use std::path::Path;
use std::time::{Duration, Instant};

use dryturn_units::noise::Seed;

use super::{Case, drill, foyer, rehearse, with_fault};
use crate::help;

/// More operations than any of these commands does.
const MANY: usize = 4000;

/// In memory where there is such a place: hundreds of calls wait for the disk otherwise.
fn quick_folder() -> tempfile::TempDir {
    tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap()
}

/// Dies at every operation, or every so many; how many there are, and after how many of them the results were new.
fn at_every_operation(at: &Path, case: &Case, step: usize) -> (usize, usize) {
    dying(at, case, "die", (1..MANY).step_by(step))
}

/// Dies at each of these operations of a kind, likewise.
fn dying(
    at: &Path,
    case: &Case,
    kind: &str,
    numbers: impl Iterator<Item = usize>,
) -> (usize, usize) {
    let mut new = 0;
    for (turn, number) in numbers.enumerate() {
        case.prepare(at);
        let when = format!("{kind} {number}");
        let output = with_fault(at, &case.arguments(), &format!("{kind}@{number}"));
        case.check_unmixed(at, &when);
        if output.status.code().is_some() {
            let fewest = if kind == "die" { 10 } else { 3 };
            assert!(number > fewest, "{}: only {number} by {kind}", case.name);
            case.check_again(at, "undisturbed");
            return (number - 1, new);
        }
        // By turns: another command opens the folder first, or the same one at once.
        if turn.is_multiple_of(2) {
            new += usize::from(case.check_opened(at, &when));
        }
        case.check_again(at, &when);
    }
    panic!("{}: no end of operations", case.name);
}

/// A disk that is full, or read-only, from each operation on: an error with its cause, and all
/// is as before, at the latest when the folder is opened again.
fn on_failing_disks(at: &Path, case: &Case, step: usize) -> usize {
    let mut failures = 0;
    for (kind, word) in [("full", "full"), ("readonly", "writable")] {
        for number in (1..MANY).step_by(step) {
            case.prepare(at);
            let when = format!("{kind} from operation {number} on");
            let output = with_fault(at, &case.arguments(), &format!("{kind}@{number}"));
            let code = output.status.code().expect("it ends by itself");
            case.check_unmixed(at, &when);
            if code <= 1 {
                // What is left to clear away may fail unseen.
                let clean = super::hidden(&at.join("out")).is_empty();
                case.check_again(at, &when);
                if number > 10 && clean {
                    break;
                }
                continue;
            }
            failures += 1;
            let stderr = String::from_utf8(output.stderr).unwrap();
            assert_eq!(code, 2, "{}, {when}: {stderr}", case.name);
            assert_eq!(stderr.lines().count(), 1, "{}, {when}: {stderr}", case.name);
            assert!(stderr.contains(word), "{}, {when}: {stderr}", case.name);
            case.check_opened(at, &when);
            case.check_again(at, &when);
        }
    }
    failures
}

#[test]
fn a_rehearsal_at_every_operation() {
    let folder = quick_folder();
    let case = rehearse(folder.path());
    let (operations, new) = at_every_operation(folder.path(), &case, 1);
    assert!(operations > 40 && new > 5, "{operations} {new}");
}

#[test]
fn a_rehearsal_at_every_rename() {
    let folder = quick_folder();
    let case = rehearse(folder.path());
    let (renames, new) = dying(folder.path(), &case, "die-renaming", 1..MANY);
    assert!(renames > 5 && new > 0, "{renames} {new}");
}

#[test]
fn a_rehearsal_on_failing_disks() {
    let folder = quick_folder();
    let case = rehearse(folder.path());
    assert!(on_failing_disks(folder.path(), &case, 3) > 20);
}

/// Somebody puts a file where one was just being replaced: it stays, and nothing is wedged.
#[test]
fn a_file_that_comes_in_between_stays() {
    let folder = quick_folder();
    let at = folder.path();
    let case = rehearse(at);
    let mut undone = 0;
    for number in (1..MANY).step_by(2) {
        case.prepare(at);
        let output = with_fault(at, &case.arguments(), &format!("die@{number}"));
        if output.status.code().is_some() {
            break;
        }
        if !at.join("out/.dryturn-partial/journal").exists() {
            continue;
        }
        std::fs::write(at.join("out/both.txt"), "mine").unwrap();
        let opened = help::call(at, &["plan", "R U", "--out", "out"]);
        assert_eq!(opened.code, 0, "{number}: {}", opened.stderr);
        assert_eq!(std::fs::read(at.join("out/both.txt")).unwrap(), b"mine", "{number}");
        undone += usize::from(opened.stderr.contains("those from before stay"));
        assert!(!at.join("out/.dryturn-partial").exists(), "{number}");
    }
    assert!(undone > 3, "{undone}");
}

#[test]
fn a_drill_at_every_third_operation() {
    let folder = quick_folder();
    let case = drill(folder.path(), "100");
    let (operations, new) = at_every_operation(folder.path(), &case, 3);
    assert!(operations > 40 && new > 2, "{operations} {new}");
}

/// Which part of how many is to be run, by `DRYTURN_KILLED_PART=K/N`: several at once, as a tuning
/// takes most of a minute for each death.
fn in_parts() -> (usize, usize) {
    let Ok(part) = std::env::var("DRYTURN_KILLED_PART") else { return (1, 1) };
    let (part, of) = part.split_once('/').expect("K/N");
    (part.parse().unwrap(), of.parse().unwrap())
}

/// The renames of this part: every N-th, from the K-th on.
fn this_part() -> impl Iterator<Item = usize> {
    let (part, of) = in_parts();
    (part..MANY).step_by(of)
}

/// Long: the other commands at every operation and on failing disks. In parts, at every rename only.
#[test]
#[ignore = "minutes"]
fn every_command_at_every_operation() {
    let folder = quick_folder();
    let at = folder.path();
    for case in chosen([rehearse(at), drill(at, "100"), frames(at), tables(at), tune(at)]) {
        let name = case.name;
        let (renames, new) = dying(at, &case, "die-renaming", this_part());
        println!("{name}: died at each of {renames} renames, {new} finished later");
        if in_parts().1 > 1 {
            continue;
        }
        // A tuning takes seconds each time.
        let step = if name == "tune" { 7 } else { 1 };
        let (operations, new) = at_every_operation(at, &case, step);
        println!("{name}: died at {operations} operations (every {step}.), {new} finished later");
        let failures = on_failing_disks(at, &case, step);
        println!("{name}: {failures} times full or read-only");
    }
}

fn frames(at: &Path) -> Case {
    let scene = foyer();
    let all = |seed, scans| {
        let size = ["--size", "64x64", "--samples", "1", "--scans", scans, "--seed", seed];
        [&["frames", scene.as_str()], &size[..]].concat()
    };
    Case::of(at, "frames", &all("1", "4"), &all("2", "3"))
}

fn tune(at: &Path) -> Case {
    let scene = foyer();
    let all = |seed| {
        let brief = ["--candidates=8", "--proof=60", "--jam-rate=0.1", "--seed", seed];
        let keep = "controller.speed_gain_per_s+controller.position_gain_per_s+\
                    controller.speed_integral_per_s+controller.friction_feed_forward_ratio+\
                    controller.wind_up_compensation_ratio+controller.hold_torque_share+\
                    drive.speed_limit_rad_s";
        [&["tune", scene.as_str(), "--keep", keep], &brief[..]].concat()
    };
    Case::of(at, "tune", &all("1"), &all("2"))
}

/// Of a cache folder that is empty: what it is missing is said, with code 1.
fn tables(at: &Path) -> Case {
    let all = |cache| ["tables", "--check", "--cache", cache, "--json"];
    Case::of(at, "tables", &all("none"), &all("nothing"))
}

/// All commands, or the one that `DRYTURN_KILLED` names.
fn chosen(all: [Case; 5]) -> impl Iterator<Item = Case> {
    let only = std::env::var("DRYTURN_KILLED").unwrap_or_default();
    all.into_iter().filter(move |case| only.is_empty() || case.name == only)
}

/// Long: 200 kills of each command at random moments; `DRYTURN_KILLS` and `DRYTURN_KILLS_SEED` take
/// others.
#[test]
#[ignore = "minutes"]
fn every_command_at_random_moments() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let kills = help::setting("DRYTURN_KILLS", 200);
    let mut noise = Seed::new(help::setting("DRYTURN_KILLS_SEED", 5)).stream("kills", 0, 0);
    for case in chosen([rehearse(at), drill(at, "2000"), frames(at), tune(at), tables(at)]) {
        case.prepare(at);
        let begun = Instant::now();
        help::program().current_dir(at).args(case.arguments()).output().unwrap();
        let whole_s = begun.elapsed().as_secs_f64();
        case.check_again(at, "undisturbed");
        let (mut tries, mut killed, mut new) = (0, 0, 0);
        while killed < kills {
            tries += 1;
            let number = tries;
            assert!(tries < 10 * kills + 10, "{}: too quick to be killed", case.name);
            // Half of them near the end, where files are put in place.
            let share = if number % 2 == 0 { noise.uniform() } else { noise.between(0.8, 1.0) };
            case.prepare(at);
            let mut program = help::program();
            program.current_dir(at).args(case.arguments());
            let mut running = program
                .stdout(std::process::Stdio::null())
                .stderr(std::process::Stdio::null())
                .spawn()
                .unwrap();
            std::thread::sleep(Duration::from_secs_f64(share * whole_s));
            running.kill().unwrap();
            killed += u64::from(running.wait().unwrap().code().is_none());
            let when = format!("kill {number}");
            case.check_unmixed(at, &when);
            new += usize::from(case.check_opened(at, &when));
            if number % 5 == 0 {
                case.check_again(at, &when);
            }
        }
        println!("{}: {killed} killed in {tries} tries, {new} with the new results", case.name);
    }
}
