//! Scenes and plans for the tests of the drive.
#![allow(dead_code)] // each test file uses some

use dryturn_cube::{CubeState, notation};
use dryturn_driving::{Detail, Machine};
use dryturn_handoff::{Beat, Plan, Run};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use serde_json::{Value, json};

pub(crate) type Changes<'a> = &'a [(&'a str, Value)];

/// The workbench with other settings.
pub(crate) fn scene(changes: Changes<'_>) -> Scene {
    let text = include_str!("../../../../../scenes/workbench.ron");
    let scene = Scene::parse(text, "workbench.ron").unwrap();
    changes.iter().fold(scene, |scene, (path, value)| scene.with(path, value.clone()).unwrap())
}

/// The same without any error of the rig.
pub(crate) fn exact(more: Changes<'_>) -> Scene {
    let errors = [
        "tolerances.encoder_error_deg",
        "tolerances.homing_error_sigma_deg",
        "tolerances.friction_spread_sigma_share",
        "tolerances.tension_spread_sigma_share",
        "tolerances.inertia_spread_sigma_share",
        "tolerances.torque_constant_spread_sigma_share",
        "tolerances.strength_spread_sigma_share",
        "tolerances.shaft_offset_sigma_mm",
        "tolerances.shaft_tilt_sigma_deg",
        "tolerances.shaft_run_out_sigma_mm",
        "link.command_jitter_sigma_ms",
    ];
    let none: Vec<(&str, Value)> = errors.map(|path| (path, json!(0.0))).to_vec();
    let scene = scene(&none);
    more.iter().fold(scene, |scene, (path, value)| scene.with(path, value.clone()).unwrap())
}

pub(crate) fn plan(turns: &str) -> Plan {
    Plan::of_turns(&notation::parse(turns).unwrap())
}

/// So many beats of one turn.
pub(crate) fn again(turn: &str, beats: usize) -> Plan {
    Plan { beats: vec![Beat { turns: notation::parse(turn).unwrap() }; beats] }
}

/// Twenty-two turns in twenty-one beats.
pub(crate) fn long() -> Plan {
    plan("R U2 F' D L B2 U D' R2 F L' B U2 R D F2 L' U B' R F' D2")
}

pub(crate) fn run(scene: &Scene, plan: &Plan, trial: u64) -> Run {
    runs(&Machine::of(scene), plan, trial)
}

pub(crate) fn runs(machine: &Machine, plan: &Plan, trial: u64) -> Run {
    machine.run(&CubeState::SOLVED, plan, Seed::new(1).trial(trial), Detail::Figures)
}

/// Jams among so many trials.
pub(crate) fn jams(scene: &Scene, plan: &Plan, trials: u64) -> usize {
    let machine = Machine::of(scene);
    (0..trials).filter(|&trial| runs(&machine, plan, trial).jam().is_some()).count()
}
