//! A logged run over the simulated run of the same plan.

use std::sync::Arc;

use dryturn_cube::{CubeState, notation};
use dryturn_driving::{Detail, Machine, run_log};
use dryturn_handoff::{Plan, RunLog};
use dryturn_metrology::motor;
use dryturn_record::{Exhibit, ShownOverlay};
use dryturn_scene::Scene;
use dryturn_studies::OverlayWords;
use dryturn_studies::overlay::{HowExplained, Overlay};
use dryturn_units::noise::Seed;
use serde_json::json;

use super::refused::refused;
use super::{NOISE, document};
use crate::help;

const TURNS: &str = "R U2 F' D L B2 U D' R2 F L' B U2 R D F2";

fn plan(turns: &str) -> Arc<Plan> {
    Arc::new(Plan::of_turns(&notation::parse(turns).unwrap()))
}

/// What the rig of a trial logs, with one figure changed.
fn logged(field: &str, value: f64, trial: u64) -> RunLog {
    let real = help::scene("workbench").with(field, json!(value)).unwrap();
    let names = Seed::new(1).trial(trial);
    let run = Machine::of(&real).run(&CubeState::SOLVED, &plan(TURNS), names, Detail::Trace);
    run_log(&run, NOISE, names)
}

fn overlaid(drawn: &Arc<Scene>, log: &RunLog) -> Overlay {
    let log = motor::run_log(&log.csv(), &plan(TURNS)).unwrap();
    Overlay::of(drawn, &plan(TURNS), &Arc::new(log)).unwrap()
}

/// A rig as drawn leaves nothing to explain; a log that ends early is compared as far as it
/// goes; a log may begin at any time and angle.
#[test]
fn logs_may_start_anywhere_and_end_early() {
    let drawn = help::scene("workbench");
    let mut log = logged("drive.friction_torque_n_m", 0.156, 0);
    log.time_s.iter_mut().for_each(|t| *t += 5.0);
    log.angles_deg.iter_mut().for_each(|row| row[1] += 37.0);
    log.currents_a = None;
    let over = overlaid(&drawn, &log);
    assert!(over.causes.is_empty() && over.rms_ms < 0.1 && !over.ends_early, "{}", over.rms_ms);
    assert_eq!(over.beats.len(), over.plan.beats.len());
    let off = |beat: &dryturn_studies::overlay::BeatOff| beat.late_ms.abs().max(beat.rms_deg);
    assert!(over.beats.iter().all(|beat| off(beat) < 4.0), "{:?}", over.beats);
    let half = log.time_s.len() / 2;
    log.time_s.truncate(half);
    log.angles_deg.truncate(half);
    let over = overlaid(&drawn, &log);
    assert!(over.ends_early && (4..12).contains(&over.beats.len()), "{}", over.beats.len());
}

/// Where no figure explains what is off, the page says so.
#[test]
fn the_page_gives_the_verdict() {
    let drawn = help::scene("workbench");
    let mut log = logged("drive.friction_torque_n_m", 0.156, 0);
    log.time_s.iter_mut().for_each(|t| *t += 0.006 * (37.0 * *t).sin());
    let over = Arc::new(overlaid(&drawn, &log));
    assert!(!over.explained(), "{:?}", over.causes);
    let title = "warped".to_owned();
    let exhibit = Exhibit::Overlay(Arc::new(ShownOverlay { title, overlay: over }));
    let page = dryturn_report::logs_page("A warped log.", &[exhibit]);
    assert!(page.contains("No single figure explains it: the best, "));
}

/// Times of another unit are another run.
#[test]
fn stretched_times_are_refused() {
    let log = logged("drive.friction_torque_n_m", 0.156, 0);
    for ratio in [9.0, 0.1] {
        let time_s = log.time_s.iter().map(|t| ratio * t).collect();
        let log = Arc::new(RunLog { time_s, ..log.clone() });
        let refused = Overlay::of(&help::scene("workbench"), &plan(TURNS), &log).unwrap_err();
        let said = refused.to_string();
        assert!(said.contains("column time_s") && said.contains("times as long"), "{said}");
    }
}

#[test]
fn the_command_writes_a_page_and_a_document() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("w.ron"), help::scene("workbench").to_ron()).unwrap();
    std::fs::write(at.join("run.csv"), logged("drive.friction_torque_n_m", 0.2, 0).csv()).unwrap();
    let arguments = ["overlay", "w.ron", "run.csv", "--plan", TURNS, "--json", "--out", "o"];
    let call = help::call(at, &arguments);
    let found = document(&call);
    // The same bytes, whatever the threads.
    let alone = help::call(at, &[&arguments[..6], &["--threads", "1"]].concat());
    assert_eq!(alone.stdout, call.stdout);
    // What is told, with what the figures are called, and the cautions.
    let shown = help::call(at, &arguments[..5]).stdout;
    for part in ["friction of the layers", "All figures fitted together: ", "CAUTION: "] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    assert!(["certain", "several"].contains(&found["outcome"].as_str().unwrap()), "{found}");
    let told = found["told"].as_array().unwrap();
    let alone = |told: &serde_json::Value| {
        told["figures"].as_array().is_some_and(|own| own.len() == 1)
            && told["figures"][0]["field"] == "drive.friction_torque_n_m"
    };
    assert!(told.iter().any(alone), "{told:?}");
    assert_eq!(found["causes"][0]["field"], "drive.friction_torque_n_m");
    assert_eq!(found["beats"].as_array().unwrap().len(), 15);
    let page = std::fs::read_to_string(at.join("o/overlay.html")).unwrap();
    for part in [
        "Beat by beat",
        "What would explain it by itself",
        "What explains it, and cannot be told apart",
        "All figures fitted together",
        "<svg class=\"course\"",
        "emergency stop",
    ] {
        assert!(page.contains(part), "{part}");
    }
}

/// Swapped columns, another plan, half a set of columns: one line each with line and column.
#[test]
fn logs_of_another_run() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("w.ron"), help::scene("workbench").to_ron()).unwrap();
    let log = logged("drive.friction_torque_n_m", 0.156, 0);
    let good = log.csv();
    let mut still = log.clone();
    still.angles_deg.iter_mut().for_each(|row| *row = [0.1; 6]);
    let mut radians = log.clone();
    radians.angles_deg.iter_mut().for_each(|row| *row = row.map(f64::to_radians));
    let swapped = good.replacen("angle_U_deg,angle_R_deg", "angle_R_deg,angle_U_deg", 1);
    let without = good.replacen(",current_B_a", "", 1);
    let without: String = without
        .lines()
        .enumerate()
        .map(|(k, line)| if k == 0 { line } else { line.rsplit_once(',').unwrap().0 })
        .map(|line| format!("{line}\n"))
        .collect();
    let axis = "time_s,angle_deg\n0,0\n";
    let lost = format!("R {TURNS}");
    let mut spike = log.clone();
    spike.angles_deg[300][1] = 500.0;
    let milli: String = good
        .lines()
        .enumerate()
        .map(|(k, line)| match line.split_once(',') {
            Some((t, rest)) if k > 0 => format!("{t}e-3,{rest}\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    let cases: [(&str, &str, &str, &[&str]); 9] = [
        ("spike.csv", &spike.csv(), TURNS, &["line 302, column angle_R_deg", "jumps by"]),
        (
            "thousandths.csv",
            &milli,
            TURNS,
            &["column time_s", "must be 0.00001 to 0.001 s", "times are in seconds"],
        ),
        (
            "swapped.csv",
            &swapped,
            TURNS,
            &["column angle_U_deg", "beat 1 of the plan must be R", "swapped columns"],
        ),
        (
            "good.csv",
            &good,
            "R U2 F D L B2",
            &["column angle_F_deg", "F makes a quarter turn anticlockwise", "beat 3"],
        ),
        ("good.csv", &good, "R U2 F' D", &["column angle_L_deg", "the plan must have ended"]),
        ("good.csv", &good, &lost, &["beat 2 of the plan must be R"]),
        ("still.csv", &still.csv(), TURNS, &["column angle_U_deg", "no axis turns by 60°"]),
        ("radians.csv", &radians.csv(), TURNS, &["no axis turns by 60°", "in degrees"]),
        ("without.csv", &without, TURNS, &["line 1, column current_B_a: missing", "all six"]),
    ];
    for (name, text, turns, parts) in cases {
        std::fs::write(at.join(name), text).unwrap();
        let parts: Vec<&str> = parts.iter().copied().chain([name, "line"]).collect();
        refused(at, &["overlay", "w.ron", name, "--plan", turns], &parts);
    }
    std::fs::write(at.join("axis.csv"), axis).unwrap();
    let arguments = ["overlay", "w.ron", "axis.csv", "--plan", TURNS];
    refused(at, &arguments, &["axis.csv: line 1, column 2: \"angle_deg\"", "angle_U_deg"]);
    refused(at, &["overlay", "w.ron", "good.csv", "--plan", "R Q"], &["--plan", "Q"]);
    refused(at, &["overlay", "w.ron", "good.csv"], &["--plan"]);
}

/// Takes more than a minute.
mod slow_set {
    use super::*;

    /// What was changed is among the single figures that come out first, near its value, and among
    /// the sets that are told, though each rig has errors of its own: rig 1 is held up three times,
    /// by faces that were not quite at their stops. It is called certain only where it is.
    #[test]
    #[ignore = "slow set: CI runs it by name"]
    fn what_was_changed_comes_out_first() {
        let drawn = help::scene("workbench");
        for (field, value, share, trials) in [
            ("drive.friction_torque_n_m", 0.2, 0.05, 0..2),
            ("drive.rotor_inertia_kg_m2", 8e-5, 0.05, 0..1),
            ("link.command_latency_ms", 2.5, 0.1, 1..2),
            ("drive.overhead_ms", 5.0, 0.1, 0..1),
            ("drive.planned_torque_share", 0.8, 0.05, 1..2),
        ] {
            for trial in trials {
                let over = overlaid(&drawn, &logged(field, value, trial));
                let group: Vec<&str> = over.likely().map(|cause| cause.field).collect();
                let said = format!("{field}, rig {trial}: {:?}", over.causes);
                // They stand together at the top.
                assert!(over.causes[..group.len()].iter().all(|cause| cause.as_good), "{said}");
                let own = over.likely().find(|cause| cause.field == field);
                let best = own.unwrap_or_else(|| panic!("{said}"));
                // Sets are what the verdict goes by: currents are fitted too, and tell more.
                let sets = over.sets.as_ref().expect("enough rigs get through");
                let truth = sets.figures.iter().position(|own| own.field == field).unwrap();
                let told = sets.told.iter().find(|told| told.set == [truth]);
                let found =
                    &told.unwrap_or_else(|| panic!("{said}: {:?}", sets.weighed)).figures[0];
                assert!((found.value / value - 1.0).abs() < share, "{said}: {found:?}");
                let verdict = OverlayWords::of(&over).verdict;
                assert_eq!(
                    verdict.contains("cannot be told apart"),
                    sets.told.len() > 1,
                    "{verdict}"
                );
                if sets.outcome == HowExplained::Certain {
                    assert!(verdict.contains(found.words), "{verdict}");
                }
                assert!((best.value / value - 1.0).abs() < share, "{said}");
                assert!(best.explained_share > 0.9 && over.explained(), "{said}");
                let fitted = over.fitted.as_ref().unwrap();
                let late = |beats: &[dryturn_studies::overlay::BeatOff]| {
                    beats[beats.len() - 1].late_ms.abs()
                };
                assert!(late(&fitted.beats) < late(&over.beats), "{said}");
                // Latency and overhead come to the same, and that is said.
                let twins = ["link.command_latency_ms", "drive.overhead_ms"];
                if twins.contains(&field) {
                    assert!(twins.iter().all(|twin| group.contains(twin)), "{said}");
                } else {
                    assert!(!twins.iter().any(|twin| group.contains(twin)), "{said}");
                }
            }
        }
    }
}
