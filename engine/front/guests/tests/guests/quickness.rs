//! What a tick costs beside the guest's own work.

use std::path::Path;
use std::process::Command;
use std::time::Instant;

use dryturn_guests::{ControlView, GuestCommand, GuestController, GuestHost, HostView};

use crate::help::{PATIENT, Stage, axis};

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
    host.begin(&dryturn_guests::HostBegin::default()).unwrap();
    let ticks = 20_000;
    let begun = Instant::now();
    for _ in 0..ticks {
        host.tick(&HostView { busy: [true; 6], ..HostView::default() }).unwrap();
    }
    let each_us = begun.elapsed().as_secs_f64() * 1e6 / f64::from(ticks);
    println!("a line there and back, a host in Python: {each_us:.1} us");
    host.goodbye().unwrap();
}
