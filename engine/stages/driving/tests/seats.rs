//! Whoever takes the place of the built-in host or controller meets the same rig.

#[path = "seats/controllers.rs"]
mod controllers;
mod help;
#[path = "seats/hosts.rs"]
mod hosts;
#[path = "seats/of_controller.rs"]
mod of_controller;
#[path = "seats/of_host.rs"]
mod of_host;

use dryturn_cube::CubeState;
use dryturn_driving::{ControllerSeat, Detail, HostSeat, Machine, Seated, Seats};
use dryturn_handoff::{Cause, Plan, Run};
use dryturn_units::noise::Seed;
use help::{long, scene};

fn built_in(machine: &Machine, plan: &Plan, trial: u64) -> Run {
    machine.run(&CubeState::SOLVED, plan, Seed::new(1).trial(trial), Detail::Trace)
}

fn seated(machine: &Machine, plan: &Plan, trial: u64, seats: Seats<'_>) -> Seated {
    let draw = Seed::new(1).trial(trial);
    machine.run_with(&CubeState::SOLVED, plan, draw, Detail::Trace, seats)
}

fn hosted(machine: &Machine, plan: &Plan, trial: u64, host: &mut dyn HostSeat) -> Seated {
    seated(machine, plan, trial, Seats { host: Some(host), ..Seats::default() })
}

fn controlled(
    machine: &Machine,
    plan: &Plan,
    trial: u64,
    controller: &mut dyn ControllerSeat,
) -> Seated {
    seated(machine, plan, trial, Seats { controller: Some(controller), ..Seats::default() })
}

fn cause(seated: &Seated) -> Option<Cause> {
    seated.run.stop().map(|stop| stop.cause)
}

/// Where nobody sits it is the same run to the bit.
#[test]
fn an_empty_seat_changes_nothing() {
    let machine = Machine::of(&scene(&[]));
    let run = seated(&machine, &long(), 3, Seats::default());
    assert_eq!((run.run, run.fault), (built_in(&machine, &long(), 3), None));
}
