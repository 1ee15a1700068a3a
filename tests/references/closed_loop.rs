//! One turn of one axis under its controller, against another solver's.

use dryturn_cube::{Amount, CubeState, Face, Turn};
use dryturn_driving::{Detail, Machine, Timing};
use dryturn_handoff::{Beat, End, Plan, Run};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use serde_json::Value as Json;

use super::{near, number, numbers};
use crate::help;

/// Place of the right face, which turns, in lists of six.
const R: usize = 1;

/// The workbench with the case's settings.
pub(super) fn scene(case: &Json) -> Scene {
    let text = help::read("scenes/workbench.ron");
    let scene = Scene::parse(&text, "workbench.ron").unwrap();
    let settings = case["inputs"]["settings"].as_array().expect("a list of settings");
    settings.iter().fold(scene, |scene, pair| {
        let path = pair[0].as_str().expect("a setting has a path");
        scene.with(path, pair[1].clone()).unwrap()
    })
}

/// Fails unless a run is as expected, within `share` of the tolerances.
fn compare(case: &Json, run: &Run, tick_s: f64, share: f64) {
    let expected = &case["expected"];
    let id = case["id"].as_str().unwrap_or("?");
    let tolerance = |key: &str| share * number(&case["tol"][key]);
    let wanted = |key: &str| number(&expected[key]);
    assert_eq!(run.end, End::Completed, "{id}");
    // The host has the command at the first tick, and sees a settled axis one tick late.
    let turn = &run.beats[0].turns[0];
    near(id, "start", turn.start_s, tick_s, 0.0, 1e-9);
    near(id, "settled_s", turn.stop_s - tick_s, wanted("settled_s"), 0.0, 1.001 * tick_s);
    let times = numbers(&expected["time_s"]);
    let trace = &run.trace;
    assert!(trace.angles_deg.len().abs_diff(times.len()) <= 1, "{id}: another length");
    for (key, found) in [
        ("layer_deg", trace.angles_deg.iter().map(|row| row[R]).collect::<Vec<_>>()),
        ("speed_rad_s", trace.speeds_rad_s.iter().map(|row| row[R]).collect()),
        ("current_a", trace.currents_a.iter().map(|row| row[R]).collect()),
        ("bus_v", trace.bus_v.clone()),
    ] {
        for ((place, found), wanted) in found.into_iter().enumerate().zip(numbers(&expected[key])) {
            near(id, "time_s", place as f64 * trace.step_s, times[place], 0.0, 1e-9);
            near(id, key, found, wanted, 0.0, tolerance(key));
        }
    }
    let energy = &run.energy;
    for (key, found) in [
        ("supply_j", energy.supply_j),
        ("source_j", energy.source_j),
        ("copper_j", energy.copper_j),
        ("friction_j", energy.friction_j),
        ("brake_j", energy.brake_j),
        ("detent_j", energy.detent_j),
        ("kinetic_j", energy.kinetic_j),
        ("stored_j", energy.stored_j),
    ] {
        near(id, key, found, wanted(key), tolerance("share"), tolerance("j"));
    }
    let peak = run.axes[R].peak_torque_n_m;
    near(id, "peak_torque_n_m", peak, wanted("peak_torque_n_m"), tolerance("share"), 0.0);
}

/// Runs the case with the usual steps, and with finer ones, which must come nearer. The
/// motor's angle is not in the trace; its speed and the shaft's torque stand for it.
pub(crate) fn check_case(case: &Json) -> Vec<String> {
    let scene = scene(case);
    let turned_deg = number(&case["inputs"]["turn_deg"]);
    let amount = Amount::ALL.into_iter().find(|amount| amount.angle_deg() == turned_deg);
    let turn = Turn { face: Face::R, amount: amount.expect("a turn of 90, 180 or -90") };
    let plan = Plan { beats: vec![Beat { turns: vec![turn] }] };
    let wanted = number(&case["expected"]["profile_s"]);
    let found = Timing::of(&scene).turn_s(turn);
    near("closed_loop", "profile_s", found, wanted, 0.0, number(&case["tol"]["profile_s"]));
    let machine = Machine::of(&scene);
    let tick_s = scene.file().controller.loop_period_ms * 1e-3;
    let run = |machine: &Machine| {
        machine.run(&CubeState::SOLVED, &plan, Seed::new(0).trial(0), Detail::Trace)
    };
    compare(case, &run(&machine.clone().with_steps_per_tick(20)), tick_s, 0.25);
    compare(case, &run(&machine), tick_s, 1.0);
    Vec::new()
}
