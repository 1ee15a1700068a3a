//! Turns one face by a quarter on simulated axes and prints the course of its angle: the place
//! to try gains, limits and profiles.
//!
//! `cargo run --example drive_axis -- controller.speed_gain_per_s=150 drive.bus_voltage_v=36`

use std::error::Error;

use dryturn::cube::{CubeState, Face, notation};
use dryturn::driving::simulate;
use dryturn::handoff::{End, Plan};
use dryturn::{Scene, Seed};

fn main() -> Result<(), Box<dyn Error>> {
    let mut scene: Scene = dryturn::scene::starter();
    for change in std::env::args().skip(1) {
        let (field, value) = change.split_once('=').ok_or("a change is FIELD=VALUE")?;
        scene = scene.with_text(field, value).map_err(|error| error.to_string())?;
    }
    let plan = Plan::of_turns(&notation::parse("R")?);
    let run = simulate(&scene, &CubeState::SOLVED, &plan, Seed::new(1).trial(0));
    println!("time_ms,angle_deg,current_a");
    let axis = Face::R.index();
    for (step, angles) in run.trace.angles_deg.iter().enumerate().step_by(10) {
        let (ms, current) =
            (run.trace.step_s * 1e3 * step as f64, run.trace.currents_a[step][axis]);
        println!("{ms:.2},{:.3},{current:.2}", angles[axis]);
    }
    if run.end != End::Completed {
        println!("# did not get through: {:?}", run.end);
        return Ok(());
    }
    let load = &run.axes[axis];
    println!(
        "# settled after {:.1} ms; at most {:.1} A, and {:.2} N·m in a shaft that breaks at {:.2}",
        run.total_s * 1e3,
        load.peak_current_a,
        load.peak_torque_n_m,
        load.ultimate_torque_n_m
    );
    Ok(())
}
