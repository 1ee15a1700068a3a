//! Controllers, hand-over, supply, link and host.

mod control;
mod host;
mod supply;

use dryturn_driving::Machine;
use dryturn_scene::Scene;
use dryturn_scene::file::{SceneFile, Tension};

use super::{Finding, FindingKind as Kind};

pub(super) fn findings(scene: &Scene, machine: &Machine) -> Vec<Finding> {
    let file = scene.file();
    let all = [
        control::settle(file),
        control::deadband(file),
        control::beat_limit(file, machine),
        control::speed_loop(file),
        control::position_loop(file),
        control::current_loop(file),
        control::hold(file, machine),
        control::following(file),
        supply::over_voltage(file),
        supply::chopper_off(file),
        supply::supply(file, machine),
        supply::heat(file),
        host::commands(file),
        host::watchdog(file),
        host::resend(file),
        host::jitter(file),
        tension(file),
        host::host(file),
    ];
    all.into_iter().flatten().collect()
}

fn tension(file: &SceneFile) -> Option<Finding> {
    let cube = &file.cube;
    let contradicts = match cube.tension {
        // Half-way between the two kinds of cube.
        Tension::Tight => cube.clearance_mm > 0.25,
        Tension::Loose => cube.clearance_mm < 0.25,
    };
    contradicts.then(|| {
        let other = if cube.tension == Tension::Tight { Tension::Loose } else { Tension::Tight };
        Finding::doubtful(Kind::ClearanceContradictsTension, "cube.clearance_mm")
            .figure("clearance_mm", cube.clearance_mm)
            .says(
                format!(
                    "the cube is {:?}, with the play of a {other:?} one: {} mm",
                    cube.tension, cube.clearance_mm
                ),
                format!("cube.tension {other:?}, or leave clearance_mm to the tension"),
            )
    })
}
