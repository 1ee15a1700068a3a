//! Guests that are checked before any rehearsal.

use dryturn_cube::{CubeState, net, notation};
use dryturn_guests::check::{Findings, Pictures, check};
use dryturn_handoff::GuestRole;
use serde_json::json;

use crate::help::{PATIENT, SHORT, Stage, known, scene};

fn checked(role: GuestRole, stage: &Stage) -> Findings {
    let scene = scene();
    let cube = |turns: &str| CubeState::SOLVED.turned_by(&notation::parse(turns).unwrap());
    let shown = ["R U F'", "L2 D B"].map(cube);
    let pictures = Pictures {
        calibration: vec![known(&scene, &CubeState::SOLVED)],
        scans: shown.map(|cube| (cube, known(&scene, &cube).frames)).to_vec(),
        scene: Some(scene),
    };
    let findings = check(role, &stage.command(), PATIENT, &pictures);
    stage.assert_gone();
    findings
}

#[test]
fn good_guests_pass() {
    for role in [GuestRole::Reader, GuestRole::Host, GuestRole::Controller] {
        let findings = checked(role, &Stage::good(role.word()));
        assert_eq!(findings.findings, [], "{role}");
        assert_eq!(findings.guest.unwrap(), format!("a good {role} 0.1"));
        assert_eq!(findings.asked.first().map(String::as_str), Some("hello"));
        assert_eq!(findings.asked.last().map(String::as_str), Some("goodbye"));
    }
}

#[test]
fn each_cube_of_a_planner_has_its_own_finding() {
    let solved = |turns: &str, plan: &str| {
        let cube = CubeState::SOLVED.turned_by(&notation::parse(turns).unwrap());
        (net::write_faces(&cube.colours()), json!(plan))
    };
    let table = [solved("", ""), solved("R", "R"), solved("R U R' U'", "U R U' R'")];
    let table = serde_json::Value::Object(table.into_iter().collect());
    let stage = Stage::good("planner").with_table(&table);
    let findings = checked(GuestRole::Planner, &stage);
    let names: Vec<&str> = findings.findings.iter().map(|f| &*f.name).collect();
    // One turn off it plans wrongly; the hard cubes are not in its table, the last one twice.
    let wanted = ["does_not_solve"].into_iter().chain(["error_answer"; 5]);
    assert_eq!(names, wanted.collect::<Vec<_>>());
    assert_eq!(findings.findings[0].asked, "plan of a cube one turn off");
    assert_eq!(findings.findings[0].allowed, "turns after which the cube is solved");
    assert_eq!(findings.asked.len(), 10);
}

#[test]
fn a_broken_guest_is_asked_no_more() {
    for (role, mode, name) in [
        (GuestRole::Planner, "prose", "not_json"),
        (GuestRole::Host, "prose", "not_json"),
        (GuestRole::Reader, "dies_at_start", "exited"),
        (GuestRole::Controller, "record_nan", "bad_record"),
    ] {
        let findings = checked(role, &Stage::of("bad.py", mode));
        let names: Vec<&str> = findings.findings.iter().map(|f| &*f.name).collect();
        assert_eq!(names, [name], "{role} {mode}");
    }
    let stage = Stage::of("bad.py", "never_reads");
    let findings = check(GuestRole::Planner, &stage.command(), SHORT, &Pictures::default());
    assert_eq!(findings.findings[0].name, "too_late");
    stage.assert_gone();
}
