//! What a run must do, whatever the figures.

use dryturn_cube::{CubeState, notation, random_state};
use dryturn_driving::simulate;
use dryturn_handoff::{Beat, End, Plan};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use serde_json::json;

fn scene(changes: &[(&str, serde_json::Value)]) -> Scene {
    let text = include_str!("../../../../scenes/workbench.ron");
    let scene = Scene::parse(text, "workbench.ron").unwrap();
    changes.iter().fold(scene, |scene, (path, value)| scene.with(path, value.clone()).unwrap())
}

const EXACT: [(&str, i32); 3] = [
    ("tolerances.stop_error_sigma_deg", 0),
    ("tolerances.encoder_error_deg", 0),
    ("tolerances.friction_spread_sigma_share", 0),
];

fn exact(more: &[(&str, serde_json::Value)]) -> Scene {
    let exact = EXACT.map(|(path, value)| (path, json!(value)));
    scene(&[&exact[..], more].concat())
}

/// Eight quarter turns of a lone axis take about 400 ms at 30 V and 290 ms at
/// 48 V (common practice, no source).
#[test]
fn eight_quarter_turns_of_a_lone_axis() {
    let turn = notation::parse("R").unwrap();
    let plan = Plan { beats: vec![Beat { turns: turn }; 8] };
    for (voltage, wanted_s) in [(30.0, 0.400), (48.0, 0.290)] {
        let scene = exact(&[
            ("drive.bus_voltage_v", json!(voltage)),
            ("drive.release_angle_deg", json!(0.0)),
            ("drive.command_latency_ms", json!(0.0)),
            ("drive.planned_torque_share", json!(1.0)),
        ]);
        let run = simulate(&scene, &CubeState::SOLVED, &plan, Seed::new(1), 0);
        assert!((run.total_s / wanted_s - 1.0).abs() < 0.03, "{} s at {voltage} V", run.total_s);
        assert_eq!(run.end, End::Completed);
        assert_eq!(run.final_state, CubeState::SOLVED);
    }
}

/// Executing what was planned turns the cube as planned; angles add up.
#[test]
fn a_run_without_a_jam_turns_the_cube_as_planned() {
    let scene = exact(&[]);
    let turns = notation::parse("R U2 F' D L B2 U D' R2").unwrap();
    let plan = Plan::of_turns(&turns);
    let start = random_state(&mut Seed::new(4).stream("test", 0, 0));
    let run = simulate(&scene, &start, &plan, Seed::new(1), 0);
    assert_eq!(run.end, End::Completed);
    assert_eq!(run.final_state, start.turned_by(&turns));
    let last = run.trace.angles_deg.last().unwrap();
    let wanted = [270.0, 270.0, -90.0, 0.0, 90.0, 180.0];
    for (angle, wanted) in last.iter().zip(wanted) {
        assert!((angle - wanted).abs() < 0.2, "{last:?}");
    }
    // Beats start in order, each after the one before has begun.
    assert!(run.beats.is_sorted_by(|a, b| a.start_s() < b.start_s() && a.stop_s() < b.stop_s()));
}

/// A release angle beyond what the interlock allows must jam; a cautious one not.
#[test]
fn a_generous_release_angle_jams() {
    let plan = Plan::of_turns(&notation::parse("R U R U").unwrap());
    let run = |release: f64| {
        let scene = exact(&[("drive.release_angle_deg", json!(release))]);
        simulate(&scene, &CubeState::SOLVED, &plan, Seed::new(1), 0)
    };
    assert_eq!(run(0.5).end, End::Completed);
    let jammed = run(40.0);
    let jam = jammed.jam().expect("40° is far too early");
    assert_eq!(
        (jam.beat, jam.late_face, jam.blocked_face),
        (1, dryturn_cube::Face::R, dryturn_cube::Face::U)
    );
    assert!(jam.late_angle_deg > jam.allowed_deg);
    assert!(jam.blame.contains("release angle"), "{}", jam.blame);
    assert!(jammed.total_s < run(0.5).total_s);
}

/// A loose cube tolerates what jams a tight one.
#[test]
fn a_loose_cube_tolerates_more() {
    let plan = Plan::of_turns(&notation::parse("R U F R U F").unwrap());
    let release = ("drive.release_angle_deg", json!(20.0));
    let tight = exact(std::slice::from_ref(&release));
    let loose = exact(&[
        release,
        ("cube.clearance_mm", json!(0.4)),
        ("cube.edge_radius_mm", json!(3.0)),
        ("cube.lift_mm", json!(1.0)),
        ("cube.friction_ratio", json!(0.15)),
        ("drive.friction_torque_n_m", json!(0.04)),
    ]);
    let end = |scene: &Scene| simulate(scene, &CubeState::SOLVED, &plan, Seed::new(1), 0).end;
    assert!(matches!(end(&tight), End::Jammed(_)));
    assert_eq!(end(&loose), End::Completed);
}

#[test]
fn the_same_names_give_the_same_run() {
    let plan = Plan::of_turns(&notation::parse("R U F D L B").unwrap());
    let scene = scene(&[]);
    let run = |trial| simulate(&scene, &CubeState::SOLVED, &plan, Seed::new(1), trial);
    assert_eq!(run(0), run(0));
    assert_ne!(run(0).total_s, run(1).total_s);
}

/// A winding that can only just overcome the friction: drawn friction beyond the
/// stall torque must make the axis crawl, not fail.
#[test]
fn a_weak_winding_crawls() {
    let scene = scene(&[
        ("drive.resistance_ohm", json!(26.0)),
        ("drive.torque_setting_n_m_per_v", json!(0.1)),
        ("tolerances.friction_spread_sigma_share", json!(1.0)),
    ]);
    let plan = Plan::of_turns(&notation::parse("R U F D L B R2 U2").unwrap());
    for trial in 0..20 {
        let run = simulate(&scene, &CubeState::SOLVED, &plan, Seed::new(1), trial);
        assert!(run.total_s.is_finite() && run.total_s > 0.0);
    }
}

/// A face that turns twice in a row comes to rest in between.
#[test]
fn a_face_that_turns_again_first_comes_to_rest() {
    let scene = exact(&[("drive.release_angle_deg", json!(45.0))]);
    let plan = Plan::of_turns(&notation::parse("R L R2").unwrap());
    let run = simulate(&scene, &CubeState::SOLVED, &plan, Seed::new(1), 0);
    assert!(run.beats[1].start_s() >= run.beats[0].turns[0].stop_s);
    let steps: Vec<f64> =
        run.trace.angles_deg.windows(2).map(|pair| (pair[1][1] - pair[0][1]).abs()).collect();
    let fastest = steps.iter().copied().fold(0.0, f64::max);
    assert!(fastest < 6.0, "a shaft jumped {fastest}° in half a millisecond");
}
