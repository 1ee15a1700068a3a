//! Plans for a rig: what is exported and refused, their times below a ceiling, the follower
//! in C, and the command `follow`.

use std::path::Path;
use std::process::Command;

use dryturn_cube::{CubeState, notation};
use dryturn_studies::{CAUTIONS, RigFile};
use serde_json::Value as Json;
use sha2::{Digest as _, Sha256};

use crate::help;

const SCRAMBLE: &str = "R U2 F' D L B2 R' U D2 F";
/// Turns begin while their neighbours end theirs.
const TUNED: &str = "handover: (policy: Predict, clearance_margin_deg: 0.0), drive: ()";

/// The foyer with another block for its drive.
fn scene(at: &Path, name: &str, block: &str) -> String {
    let text = help::read("scenes/foyer_morning.ron").replacen("drive: ()", block, 1);
    let path = at.join(name);
    std::fs::write(&path, text).unwrap();
    path.display().to_string()
}

fn export(at: &Path, scene: &str, out: &str, more: &[&str]) -> help::Call {
    let arguments = [
        "plan",
        SCRAMBLE,
        "--scene",
        scene,
        "--tables",
        "compact",
        "--for-rig",
        "--json",
        "--out",
        out,
    ];
    help::call(at, &[&arguments[..], more].concat())
}

fn text(at: &Path, name: &str) -> String {
    std::fs::read_to_string(at.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn document(at: &Path, name: &str) -> Json {
    serde_json::from_str(&text(at, name)).unwrap()
}

fn number(document: &Json, key: &str) -> f64 {
    document[key].as_f64().unwrap_or_else(|| panic!("{key} in {document}"))
}

/// A file whose rows were changed and which was sealed anew.
fn resealed(csv: &str, change: impl Fn(&str) -> String) -> String {
    let (body, _) = csv.split_once("# crc32 ").unwrap();
    let body = change(body);
    assert!(!csv.starts_with(&body), "nothing was changed");
    // By the definition, bit by bit.
    let mut crc = u32::MAX;
    for byte in body.bytes() {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { (crc >> 1) ^ 0xedb8_8320 } else { crc >> 1 };
        }
    }
    let text = format!("{body}# crc32 {:08x}\n", !crc);
    let digest: String =
        Sha256::digest(text.as_bytes()).iter().map(|b| format!("{b:02x}")).collect();
    format!("{text}# sha256 {digest}\n")
}

/// What is exported turns the state to solved, says what it is for, carries the cautions, and
/// is refused where executions fail, unless that is overruled and said.
#[test]
fn a_plan_for_a_rig_is_safe_or_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let foyer = help::root().join("scenes/foyer_morning.ron").display().to_string();
    let call = export(at, &foyer, "rig", &[]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let csv = text(at, "rig/rig-plan.csv");
    let file = RigFile::parse(&csv).unwrap();
    let turns = file.sheet.plan().turns();
    let state = CubeState::SOLVED.turned_by(&notation::parse(SCRAMBLE).unwrap());
    assert_eq!(state.turned_by(&turns), CubeState::SOLVED);
    assert_eq!((file.safe, file.ceiling_share, file.sheet.overlaps()), (true, 0.25, false));
    let json = document(at, "rig/rig-plan.json");
    assert_eq!(json["state_hash"], file.state_hash);
    let whole: String = Sha256::digest(csv.as_bytes()).iter().map(|b| format!("{b:02x}")).collect();
    assert_eq!(json["csv_sha256"], whole);
    assert_eq!((&json["executions"], &json["clean"]), (&300.into(), &300.into()));
    // None of 300: 1 − 0.05^(1/300).
    assert!((number(&json, "fail_at_most_share") - 0.009936).abs() < 1e-5);
    assert!(csv.contains("300 of 300 seeded executions") && csv.contains("at most 0.99 % fail"));
    let files = ["csv", "json"].map(|end| format!("rig/rig-plan.{end}"));
    let code = ["drive.h", "follower.h", "follower.c"].map(|end| format!("rig/rig-plan-{end}"));
    for name in files.iter().chain(&code) {
        // Comments break lines.
        let said = text(at, name).replace("\n *", "").replace("  ", " ");
        for caution in CAUTIONS {
            assert!(said.contains(caution), "{name}: {caution}");
        }
    }
    for end in ["csv", "json"] {
        assert!(text(at, &format!("rig/rig-plan.{end}")).contains("For one cube on one rig"));
    }
    // Homing so poor that no waiting helps.
    let poor = scene(at, "poor.ron", "drive: ()");
    let poor_text =
        text(at, "poor.ron").replacen("tolerances: ()", "tolerances: (homing_miss_share: 0.5)", 1);
    std::fs::write(at.join("poor.ron"), poor_text).unwrap();
    let refused = export(at, &poor, "rig", &[]);
    assert_eq!((refused.code, refused.stderr.lines().count()), (2, 1), "{}", refused.stderr);
    assert!(
        refused.stderr.contains("at ceiling 0.25 it fails in")
            && refused.stderr.contains("even where every turn waits")
            && refused.stderr.contains("--unsafe-export"),
        "{}",
        refused.stderr
    );
    // What was written for another drive stays, and the message says so.
    assert!(refused.stderr.contains("rig-plan.csv there is older"), "{}", refused.stderr);
    assert_eq!(text(at, "rig/rig-plan.csv"), csv);
    let overruled = export(at, &poor, "rig", &["--unsafe-export", "--ceiling", "0.1"]);
    assert_eq!(overruled.code, 0, "{}", overruled.stderr);
    assert!(overruled.stderr.contains("NOT SAFE"), "{}", overruled.stderr);
    let csv = text(at, "rig/rig-plan.csv");
    let file = RigFile::parse(&csv).unwrap();
    assert_eq!((file.safe, file.ceiling_share), (false, 0.1));
    assert!(csv.contains("# UNSAFE, at ceiling 0.1 it fails in"));
    let rows = || csv.lines().filter(|line| !line.starts_with('#')).skip(1);
    assert!(rows().count() > 5 && rows().all(|row| row.ends_with(",0.1000,no")));
}

/// A policy that does not hold at the ceiling is replaced by waiting, and that is said.
#[test]
fn a_policy_that_does_not_hold_is_replaced_by_waiting() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    // A release angle far beyond what the cube lets pass.
    let loose =
        scene(at, "loose.ron", "handover: (policy: Release, release_angle_deg: 45.0), drive: ()");
    let call = export(at, &loose, "rig", &[]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let said = "the scene's policy Release does not hold at this ceiling, it fails in";
    let csv = text(at, "rig/rig-plan.csv");
    assert!(call.stderr.contains(said) && csv.contains(said), "{}", call.stderr);
    let file = RigFile::parse(&csv).unwrap();
    assert!(file.safe && !file.sheet.overlaps());
}

/// Time over ceiling against the closed form of a torque-limited move, t ∝ torque^−½ (double
/// integrator between two stops; e.g. L. Biagiotti and C. Melchiorri, *Trajectory Planning for
/// Automatic Machines and Robots*, 2008, §3.2), of the torque that is left above friction.
#[test]
fn times_go_with_the_root_of_the_ceiling() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let tuned = scene(at, "tuned.ron", TUNED);
    // Where a beat waits for the one before, link and overhead follow, which no torque makes
    // shorter; a predicted start is commanded as much earlier.
    let foyer = scene(at, "foyer.ron", "drive: ()");
    for (foyer, fixed_ms) in [(foyer, 2.0 + 1.0), (tuned, 0.0)] {
        let exports = [0.25, 0.5, 1.0].map(|ceiling: f64| {
            let call = export(at, &foyer, "rig", &["--ceiling", &ceiling.to_string()]);
            assert_eq!(call.code, 0, "{}", call.stderr);
            let file = RigFile::parse(&text(at, "rig/rig-plan.csv")).unwrap();
            (ceiling, document(at, "rig/rig-plan.json"), file)
        });
        let (_, full, full_file) = &exports[2];
        for (ceiling, json, file) in &exports {
            let slower = ceiling.powf(-0.5);
            let quarter = |file: &RigFile| {
                let turns = file.sheet.plan().turns();
                let place = turns.iter().position(|t| t.amount.angle_deg().abs() < 100.0).unwrap();
                file.times[place].duration_ms
            };
            let ratio = quarter(file) / quarter(full_file);
            assert!((ratio / slower - 1.0).abs() < 1e-3, "{ceiling}: a turn takes {ratio}");
            let plan_ms = |json: &Json| {
                let beats = json["beats"].as_array().unwrap().len() as f64;
                (number(json, "total_ms") - fixed_ms * (beats - 1.0)) / beats
            };
            let ratio = plan_ms(json) / plan_ms(full);
            assert!((ratio / slower - 1.0).abs() < 0.05, "{ceiling}: a plan takes {ratio}");
            // What the drives have above friction at four and a half sigmas of its spreads, and
            // of what shafts beside their axes add: some hundredths of a newton metre.
            let limit = |json: &Json| number(json, "torque_limit_n_m");
            let most = (limit(json) - ceiling * limit(full)) / (1.0 - ceiling);
            let spread = (0.08_f64 * 0.08 + 0.05 * 0.05 + 0.02 * 0.02).sqrt();
            let pressed = most - 0.156 * (1.0 + 4.5 * spread);
            assert!(*ceiling == 1.0 || (0.001..0.04).contains(&pressed), "{ceiling}: {pressed}");
        }
    }
}

/// The follower compiles without a warning and starts the same turns in the same order, and at
/// nearly the same moments, as the simulation did: fed with what the encoders read in an
/// execution that the export had not seen, once across a wrap-around of its clock.
#[test]
fn the_follower_in_c_starts_the_same_turns() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let tuned = scene(at, "tuned.ron", TUNED);
    let call = export(at, &tuned, "rig", &[]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let desk = help::root().join("tests/rig_plans/desk.c");
    let compiled = Command::new("cc")
        .args(["-std=c99", "-Wall", "-Wextra", "-Werror", "-pedantic", "-O2", "-I"])
        .arg(at.join("rig"))
        .arg(desk)
        .arg(at.join("rig/rig-plan-follower.c"))
        .arg("-o")
        .arg(at.join("desk"))
        .output()
        .expect("a C compiler, `cc`, is needed for this test");
    let said = String::from_utf8_lossy(&compiled.stderr);
    assert!(compiled.status.success(), "{said}");
    let desk = |plan: &str, begin_us: &str| {
        let call = Command::new(at.join("desk"))
            .args([plan, "run/encoders.csv", begin_us])
            .current_dir(at)
            .output()
            .unwrap();
        help::call_of(call).stdout
    };
    for seed in ["5", "6"] {
        let arguments = ["follow", "rig/rig-plan.csv", "--scene", &tuned, "--trials", "20"];
        let more = ["--seed", seed, "--json", "--out", "run"];
        let followed = help::call(at, &[&arguments[..], &more].concat());
        assert_eq!(followed.code, 0, "{}\n{}", followed.stdout, followed.stderr);
        let starts = text(at, "run/starts.csv");
        let simulated: Vec<(String, f64)> = starts
            .lines()
            .skip(1)
            .map(|line| {
                let (turn, ms) = line.rsplit_once(',').unwrap();
                (turn.replace(',', " "), ms.parse().unwrap())
            })
            .collect();
        assert!(simulated.len() > 5);
        for begin_us in ["0", "4294900000"] {
            let printed = desk("rig/rig-plan.csv", begin_us);
            let started: Vec<(String, f64)> = printed
                .lines()
                .filter_map(|line| line.strip_prefix("start ")?.rsplit_once(' '))
                .map(|(turn, ms)| (turn.to_owned(), ms.parse().unwrap()))
                .collect();
            // Turns of one beat are commanded at once; the link's jitter says which arrives first.
            let by_beat = |list: &[(String, f64)]| -> Vec<(String, f64)> {
                let beat = |turn: &str| -> usize {
                    turn.split(' ').next().and_then(|beat| beat.parse().ok()).unwrap()
                };
                let beats: Vec<usize> = list.iter().map(|(turn, _)| beat(turn)).collect();
                assert!(beats.is_sorted(), "{beats:?}");
                let mut sorted = list.to_vec();
                sorted.sort_by_key(|(turn, _)| (beat(turn), turn.clone()));
                sorted
            };
            let turns = |list: &[(String, f64)]| -> Vec<String> {
                list.iter().map(|(turn, _)| turn.clone()).collect()
            };
            let (started, simulated) = (by_beat(&started), by_beat(&simulated));
            assert_eq!(turns(&started), turns(&simulated), "{printed}");
            for (own, other) in started.iter().zip(&simulated) {
                let place = usize::from(!own.0.starts_with("1 "));
                // From the decision to the start: overhead and link, its jitter, and the half
                // millisecond between samples.
                let beat_ms = if place == 0 { 1.0 } else { 3.0 };
                let late_ms = other.1 - own.1 - beat_ms;
                assert!(late_ms.abs() < 1.0, "{own:?} against {other:?}");
            }
            assert!(printed.lines().last().unwrap().starts_with("done"), "{printed}");
        }
    }
    let json = document(at, "rig/rig-plan.json");
    let printed = desk("rig/rig-plan.csv", "0");
    let torque = format!("torque {:.4}", number(&json, "torque_limit_n_m"));
    assert!(printed.contains("ceiling 2500") && printed.contains(&torque), "{printed}");
    // A face that stands still: everything is stopped, for good.
    let still = text(at, "run/encoders.csv");
    let heading = still.lines().next().unwrap();
    let rows = (0..2000).map(|ms| format!("{ms}.000,0.0,0.0,0.0,0.0,0.0,0.0\n"));
    std::fs::write(at.join("run/encoders.csv"), format!("{heading}\n{}", rows.collect::<String>()))
        .unwrap();
    let printed = desk("rig/rig-plan.csv", "0");
    assert_eq!(printed.matches("start ").count(), 1, "{printed}");
    assert!(printed.lines().last().unwrap().starts_with("stop"), "{printed}");
    // What it refuses.
    let csv = text(at, "rig/rig-plan.csv");
    let unsafe_rows = resealed(&csv, |body| body.replace(",yes\n", ",no\n"));
    let other_ceiling = resealed(&csv, |body| body.replace(",0.2500,", ",0.5000,"));
    let cut = csv[..csv.len() / 2].to_owned();
    let flipped = csv.replacen("settled", "sett1ed", 1);
    let moved = csv.replacen("90.000", "91.000", 1);
    let not_one = csv.replacen("rig plan 2", "rig plan 9", 1);
    for (content, status) in
        [(unsafe_rows, 6), (other_ceiling, 5), (cut, 4), (moved, 4), (not_one, 1)]
    {
        std::fs::write(at.join("other.csv"), &content).unwrap();
        let printed = desk("other.csv", "0");
        assert!(printed.starts_with(&format!("status {status} ")), "{status}: {printed}");
    }
    std::fs::write(at.join("other.csv"), flipped).unwrap();
    assert!(!desk("other.csv", "0").starts_with("status 0 "));
}

/// The same executions whatever the threads; another file is refused with its line.
#[test]
fn a_file_is_followed_as_it_was_written_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let tuned = scene(at, "tuned.ron", TUNED);
    let call = export(at, &tuned, "rig", &[]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let csv = text(at, "rig/rig-plan.csv");
    let follow = |file: &str, more: &[&str]| {
        let arguments = ["follow", file, "--scene", &tuned, "--trials", "40", "--json"];
        help::call(at, &[&arguments[..], more].concat())
    };
    let one = follow("rig/rig-plan.csv", &["--threads", "1"]);
    let all = follow("rig/rig-plan.csv", &[]);
    assert_eq!((one.code, &one.stdout), (0, &all.stdout), "{}", one.stderr);
    let json: Json = serde_json::from_str(&one.stdout).unwrap();
    assert_eq!((&json["clean"], &json["overlaps"]), (&40.into(), &true.into()));
    // Far too much friction for the ceiling: it does not come through, and says so.
    let stiff = follow("rig/rig-plan.csv", &["--set", "drive.friction_torque_n_m=0.33"]);
    assert_eq!(stiff.code, 1, "{}", stiff.stderr);
    let json: Json = serde_json::from_str(&stiff.stdout).unwrap();
    assert!(number(&json, "clean") < 40.0 && json["first_failure"]["because"].is_string());
    let rows_at = csv.lines().position(|line| line.starts_with("row,")).unwrap() + 2;
    let last = csv.lines().count();
    let changed = |from: &str, to: &str| resealed(&csv, |body| body.replacen(from, to, 1));
    let first_cue = "U settled & R settled";
    for (content, line, said) in [
        (csv.replacen("90.000", "90.001", 1), last, "does not fit"),
        (csv[..csv.len() - 1].to_owned(), last, "does not fit"),
        (csv.replacen("plan 2", "plan 1", 1), 1, "must be '# dryturn rig plan 2'"),
        (changed(first_cue, "U settled"), rows_at, "all six faces"),
        (changed(first_cue, "U above 1.000 & R settled"), rows_at, "no angle on the way"),
        (changed("\n1,1,", "\n2,1,"), rows_at, "row is '2': must be 1"),
        (changed("\n1,1,", "\n1,2,"), rows_at, "beat 2 after beat 0"),
        (changed(",0.2500,", ",0.5000,"), rows_at + 1, "the same in all rows"),
        (changed(",yes\n", ",maybe\n"), rows_at, "must be yes or no"),
        (changed(",yes\n", ",yes,\n"), rows_at, "14 columns: must be 13"),
        (changed(",0.2500,", ",0.25,"), rows_at, "with 4 decimals"),
    ] {
        std::fs::write(at.join("other.csv"), &content).unwrap();
        let call = follow("other.csv", &[]);
        assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{said}: {}", call.stderr);
        let place = format!("other.csv: line {line}: ");
        assert!(
            call.stderr.contains(&place) && call.stderr.contains(said),
            "{said}: {}",
            call.stderr
        );
    }
}
