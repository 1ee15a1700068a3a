//! What a tick costs beside the guest's own work.

use std::path::Path;
use std::process::Command;
use std::time::Instant;

use dryturn_guests::{
    ControlBegin, ControlView, DeclaredMoves, GuestCommand, GuestController, GuestHost, HostView,
};

use crate::help::{PATIENT, Stage};

/// An axis of some size.
pub(crate) fn axis() -> ControlBegin {
    ControlBegin {
        tick_s: 125e-6,
        axes: 6,
        counts_per_turn: 1 << 14,
        current_limit_a: 6.0,
        torque_constant_n_m_per_a: 0.095,
        inertia_kg_m2: 8e-5,
        friction_n_m: 0.156,
        viscous_friction_n_m_s: 1e-5,
        bus_v: 48.0,
        moves: DeclaredMoves {
            profile: "MinimumTime".to_owned(),
            planned_torque_share: 0.85,
            speed_limit_rad_s: 400.0,
            acceleration_limit_rad_s2: 3500.0,
            quarter_turn_s: 0.045,
            half_turn_s: 0.065,
        },
    }
}

/// Prints microseconds a tick: of a controller in C that does nothing, so that it is all ours and
/// the system's, and of a host in Python. The aim is 25 for the first.
#[test]
#[ignore = "a measurement; needs a C compiler"]
fn how_long_a_tick_takes() {
    let folder = tempfile::tempdir().unwrap();
    let program = folder.path().join("echo");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/guests/echo.c");
    let built = Command::new("cc").arg("-O2").arg(source).arg("-o").arg(&program).status().unwrap();
    assert!(built.success());
    let command = GuestCommand::of_words(vec![program.to_str().unwrap().to_owned()]).unwrap();
    let mut guest = GuestController::start(&command, PATIENT).unwrap();
    guest.begin(&axis()).unwrap();
    let ticks = 200_000;
    let begun = Instant::now();
    for tick in 0..ticks {
        guest.tick(&ControlView { tick, ..ControlView::default() }).unwrap();
    }
    let each_us = begun.elapsed().as_secs_f64() * 1e6 / ticks as f64;
    println!("a record there and back: {each_us:.1} us");
    guest.goodbye().unwrap();

    let stage = Stage::good("host");
    let mut host = GuestHost::start(&stage.command(), PATIENT).unwrap();
    let plan = dryturn_handoff::Plan::default();
    host.begin(&dryturn_guests::HostBegin::of(&crate::help::scene(), &plan)).unwrap();
    let ticks = 20_000;
    let begun = Instant::now();
    for _ in 0..ticks {
        host.tick(&HostView { busy: [true; 6], ..HostView::default() }).unwrap();
    }
    let each_us = begun.elapsed().as_secs_f64() * 1e6 / f64::from(ticks);
    println!("a line there and back, a host in Python: {each_us:.1} us");
    host.goodbye().unwrap();
}
