//! Fits inertia and friction of an axis to a log of its moves.
//!
//! `cargo run --example fit_log -- LOG.csv` with the columns `time_s`, `angle_deg`, `speed_rad_s`,
//! `current_a`. Without a log it makes one on the simulated bench, and prints the inertia that is true there. Torques
//! follow from currents by the torque constant of the scene: take your own scene for your own log.

use std::error::Error;

use dryturn::cube::Face;
use dryturn::driving::{Bench, BenchMove, LogNoise};
use dryturn::metrology::motor::{Parameter, axis_log, identify};
use dryturn::{Scene, Seed};

/// Quarter turns there, half turns back, at four speeds.
fn bench(scene: &Scene) -> Result<dryturn::driving::BenchLog, Box<dyn Error>> {
    let moves: Vec<BenchMove> = [1.0, 0.7, 0.45, 0.25]
        .into_iter()
        .flat_map(|speed_share| {
            [1.0, -2.0].map(|quarters| BenchMove { quarters, speed_share, torque_share: 0.7 })
        })
        .collect();
    let noise = LogNoise { angle_sigma_deg: 0.02, speed_sigma_rad_s: 0.3, current_sigma_a: 0.03 };
    Ok(Bench::of(scene, Seed::new(1).trial(0), Face::R).moves(&moves, noise)?)
}

fn main() -> Result<(), Box<dyn Error>> {
    let scene = dryturn::scene::starter();
    let drive = &scene.file().drive;
    let log = match std::env::args().nth(1) {
        Some(path) => axis_log(&std::fs::read_to_string(path)?, drive)?,
        None => {
            let made = bench(&scene)?;
            println!("true inertia {:.3e} kg·m²", made.inertia_kg_m2);
            made.log
        }
    };
    let found = identify(&[log], scene.file(), None)?;
    found.warnings.iter().for_each(|warning| println!("{warning}"));
    for parameter in Parameter::ALL {
        let Some(estimate) = found.estimate(parameter) else { continue };
        let (what, unit) = (parameter.words(), parameter.unit(found.over_inertia));
        match (&estimate.open, estimate.interval) {
            (None, Some([low, high])) => {
                println!("{what}: {:.3e} {unit}, 95 % {low:.3e} to {high:.3e}", estimate.value);
            }
            (why, _) => {
                let why = why.as_deref().unwrap_or("the logs do not tell");
                println!("{what}: not determined: {why}");
            }
        }
    }
    Ok(())
}
