//! Logs of simulated axes, a sample for every few of their controllers'.

use dryturn_cube::{CubeState, Face, notation};
use dryturn_driving::{Bench, BenchMove, Detail, LogNoise, Machine, run_log as simulated};
use dryturn_handoff::{AxisLog, Plan, RunLog};
use dryturn_units::noise::Seed;

use super::{Seeds, texts};
use crate::help;

const NOISE: LogNoise =
    LogNoise { angle_sigma_deg: 0.02, speed_sigma_rad_s: 0.3, current_sigma_a: 0.03 };
/// Samples 1 and 5 ms apart.
const FINE: usize = 8;
const SLOW: usize = 40;
/// Samples of a run 1 ms apart.
const RUN: usize = 2;

fn thinned<T: Copy>(list: &[T], stride: usize) -> Vec<T> {
    list.iter().step_by(stride).copied().collect()
}

fn thin(log: &AxisLog, stride: usize) -> AxisLog {
    let pick = |list: &Vec<f64>| thinned(list, stride);
    AxisLog {
        time_s: pick(&log.time_s),
        angle_deg: pick(&log.angle_deg),
        speed_rad_s: log.speed_rad_s.as_ref().map(pick),
        current_a: log.current_a.as_ref().map(pick),
    }
}

pub(crate) fn axis_log() -> Seeds {
    let bench = Bench::of(&help::scene("workbench"), Seed::new(1).trial(0), Face::R);
    let to = |quarters, speed_share| BenchMove { quarters, speed_share, torque_share: 0.7 };
    let moves = [to(1.0, 1.0), to(-2.0, 0.7), to(1.0, 0.45), to(-1.0, 0.6)];
    let moved = bench.moves(&moves, NOISE).unwrap().log;
    let coasted = bench.coasting(&BenchMove { torque_share: 0.85, ..to(2.0, 0.8) }, NOISE).unwrap();
    let fine = thin(&moved, FINE);
    let angles_and_currents = AxisLog { speed_rad_s: None, ..fine.clone() };
    let slow = thin(&moved, SLOW);
    let logs = [fine, angles_and_currents, slow, thin(&coasted.log, FINE)];
    texts(logs.iter().map(AxisLog::csv))
}

pub(crate) fn run_log() -> Seeds {
    let machine = Machine::of(&help::scene("workbench"));
    let one = |turns: &str, currents: bool| {
        let plan = Plan::of_turns(&notation::parse(turns).unwrap());
        let draw = Seed::new(1).trial(0);
        let run = machine.run(&CubeState::SOLVED, &plan, draw, Detail::Trace);
        let log = simulated(&run, NOISE, draw);
        let currents_a = log.currents_a.filter(|_| currents);
        let thin = RunLog {
            time_s: thinned(&log.time_s, RUN),
            angles_deg: thinned(&log.angles_deg, RUN),
            currents_a: currents_a.map(|list| thinned(&list, RUN)),
        };
        format!("# {turns}\n{}", thin.csv())
    };
    texts([one("R U'", true), one("F B2", false), one("L D R", false)])
}
