//! Faces that are held off their stops, and axes that are never left alone.

use dryturn_cube::{CubeState, Face, notation};
use dryturn_handoff::{Plan, Run};
use dryturn_units::noise::Seed;
use dryturn_units::radians;
use serde_json::{Value, json};

use super::Detail;
use super::show::Show;
use crate::execution::Execution;
use crate::host::Host;
use crate::rig::{BuiltAxes, Machine};
use crate::support::workbench;
use crate::watch::Guard;

fn plan(turns: &str) -> Plan {
    Plan::of_turns(&notation::parse(turns).unwrap())
}

/// The front face is held so far off its stop, clockwise positive; its neighbour turns.
fn meeting(off_deg: f64, turn: &str, more: &[(&str, Value)]) -> Run {
    let mut off = [0.0; 6];
    off[Face::F.index()] = off_deg;
    let machine = Machine::without_errors(&workbench(more));
    let (plan, draw) = (plan(turn), Seed::new(1).trial(0));
    let guard = Guard::new(machine.limits(plan.beats.len(), None));
    let mut show = Show::of(&machine, (Host::new(&plan, &machine), guard), draw, Detail::Figures);
    let built = BuiltAxes::of(&machine, draw);
    show.execution = Execution::new(&machine, built, &machine.moves, &off.map(radians));
    show.play(&CubeState::SOLVED, &plan)
}

/// Turned against the error of a late face, corners meet and block; turned with it, they
/// do not, and the row that both share only rubs along.
#[test]
fn direction_matters() {
    let hold = [("controller.hold_torque_share", json!(1.0))];
    for off in [2.2, -2.2] {
        let (with, against) = if off > 0.0 { ("R", "R'") } else { ("R'", "R") };
        let blocked = meeting(off, against, &hold);
        let free = meeting(off, with, &hold);
        let jam = blocked.jam().unwrap_or_else(|| panic!("{off}: {:?}", blocked.end));
        assert_eq!((jam.met.late_face, jam.met.blocked_face), (Face::F, Face::R));
        assert!(jam.met.blocked_angle_deg.abs() < 5.0, "met at {}°", jam.met.blocked_angle_deg);
        assert!(free.stop().is_none(), "{off}: {:?}", free.end);
        let met = free.jam().map_or(90.0, |jam| jam.met.blocked_angle_deg.abs());
        assert!(met > 5.0, "{off}: met at {met}°");
    }
}

/// The closed form says how far off a face may be; the simulation agrees that half of it
/// passes and twice of it blocks.
#[test]
fn the_closed_form_and_the_simulation_agree() {
    let hold = [("controller.hold_torque_share", json!(0.42))];
    let jam_deg = Machine::without_errors(&workbench(&hold)).budgets[0].jam_deg;
    assert!((0.9..1.6).contains(&jam_deg), "{jam_deg}");
    assert!(meeting(0.5 * jam_deg, "R'", &hold).jam().is_none());
    assert!(meeting(2.0 * jam_deg, "R'", &hold).jam().is_some());
}

/// Axes at rest need not be stepped: the run stays the same.
#[test]
fn parked_axes_change_nothing() {
    let scene = workbench(&[("tolerances.homing_error_sigma_deg", json!(0.4))]);
    let machine = Machine::of(&scene);
    let restless = Machine { parks: false, ..machine.clone() };
    let plan = plan("R U2 F' D L B2 U D' R2 F L' B U2 R D F2 L' U B' R F' D2");
    let run = |machine: &Machine, trial: u64| {
        machine.run(&CubeState::SOLVED, &plan, Seed::new(1).trial(trial), Detail::Figures)
    };
    for trial in 0..8 {
        let (one, other) = (run(&machine, trial), run(&restless, trial));
        assert_eq!(one.jam().is_some(), other.jam().is_some());
        assert!((one.total_s - other.total_s).abs() < 3e-4, "{} {}", one.total_s, other.total_s);
    }
}
