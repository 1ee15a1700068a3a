//! Plans a cube for the fewest turns and for the least time on a scene's own drive, and says how
//! long each takes there.
//!
//! `cargo run --example plan_and_time -- "R U2 F' D L B2 U R2"`
//!
//! The search for the least time goes by mean costs of beats and by way of a subgroup: of a cube
//! that few turns solve, the plan of fewest turns is often the quicker one. Time both and take it.

use std::error::Error;

use dryturn::cube::{CubeState, notation};
use dryturn::driving::Timing;
use dryturn::planning::{Objective, Planner};
use dryturn::rehearsal::least_time;

const SCRAMBLE: &str = "U R2 F B R B2 R U2 L B2 R U' D' R2 F R' L B2 U2 F2";
/// Search nodes: about a tenth of a second.
const NODES: u64 = 50_000;

fn main() -> Result<(), Box<dyn Error>> {
    let turns = std::env::args().nth(1);
    let turns = turns.as_deref().unwrap_or(SCRAMBLE);
    let cube = CubeState::SOLVED.turned_by(&notation::parse(turns)?);
    let scene = dryturn::scene::starter();
    let (planner, timing) = (Planner::new(), Timing::of(&scene));
    let objectives = [("fewest turns", Objective::FewestTurns), ("least time", least_time(&scene))];
    for (what, objective) in objectives {
        let plan = planner.plan(&cube, objective, NODES).plan;
        let ms = timing.total_s(&plan).map_or(f64::NAN, |s| s * 1e3);
        println!(
            "{what}: {} turns in {} beats, {ms:.0} ms as drawn: {}",
            plan.turns().len(),
            plan.beats.len(),
            notation::format(&plan.turns())
        );
    }
    Ok(())
}
