//! One execution of each drawn scene, and what else a drive can be asked.

use std::collections::BTreeMap;

use dryturn_cube::{CubeState, Face, notation};
use dryturn_driving::{Bench, BenchMove, Detail, LogNoise, Machine, Timing};
use dryturn_handoff::{Cause, Plan, Run, SimulationLimit};
use dryturn_studies::{FailureKind, motor};
use dryturn_units::noise::Seed;

use crate::fields::{Drawn, Taken};
use crate::timed;

/// From the finding until the drives have let go, and until the rig rests, s: what a run may
/// go on after its end.
const REST_S: f64 = 1.2;
/// Of every so many scenes, costs and squaring are asked too.
const ALSO_EVERY: u64 = 8;
/// Fits of slow logs take seconds.
const SLOW_EVERY: u64 = 128;

/// Plans of one to ten beats.
const PLANS: [&str; 4] = ["R", "U D", "R U2 F' L R2 B' D U' R F2 L'", "R2 U2 F2 R' L U' D F"];

struct Ended {
    how: &'static str,
    limit: Option<SimulationLimit>,
    refused: usize,
    run: Run,
}

fn plan(number: u64) -> Plan {
    Plan::of_turns(&notation::parse(PLANS[(number % 4) as usize]).unwrap())
}

fn executed(drawn: &Drawn, number: u64) -> Ended {
    let Taken { scene, refused } = drawn.scene(number);
    let machine = Machine::of(&scene);
    let plan = plan(number);
    let trial = Seed::new(1).trial(number);
    let run = machine.run(&CubeState::SOLVED, &plan, trial, Detail::Trace);
    let limits = machine.limits(plan.beats.len(), None);
    assert_eq!(run.limits, limits);
    assert!(run.total_s <= limits.run_s, "{number}: {} s of {limits:?}", run.total_s);
    let rest = (REST_S / machine.step_s() * 7.0) as u64;
    let steps = limits.axis_steps + 1_000_000 + rest;
    assert!(run.axis_steps <= steps, "{number}: {} of {limits:?}", run.axis_steps);
    assert!(run.trace.angles_deg.len() <= 130_000, "{number}: {}", run.trace.angles_deg.len());
    if number.is_multiple_of(ALSO_EVERY) {
        let squared = machine.square(&run.rest_deg, trial);
        assert!(squared.total_s < 10.0, "{number}: {squared:?}");
        let timing = Timing::of(&scene);
        let _ = (timing.beat_s(), timing.cues(&plan, number.is_multiple_of(16)));
    }
    bench(&scene, number);
    if number % ALSO_EVERY == 4 {
        identified(&scene, number);
    }
    let kind = FailureKind::of_run(&run);
    let limit = match run.stop().map(|stop| stop.cause) {
        Some(Cause::Simulation(limit)) => Some(limit),
        _ => None,
    };
    Ended { how: kind.map_or("completed", FailureKind::words), limit, refused, run }
}

/// An axis on the bench makes its moves, or says why it cannot.
fn bench(scene: &dryturn_scene::Scene, number: u64) {
    let bench = Bench::of(scene, Seed::new(1).trial(number), Face::R);
    let share = [1.0, 0.25, 1e-3][(number % 3) as usize];
    let to = |quarters| BenchMove { quarters, speed_share: share, torque_share: 0.7 };
    let noise = LogNoise::default();
    for log in [bench.moves(&[to(1.0), to(-2.0)], noise), bench.coasting(&to(2.0), noise)] {
        match log {
            Ok(made) => assert!(made.log.len() <= 500_000),
            Err(error) => assert!(error.to_string().len() < 250, "{error}"),
        }
    }
}

/// What an axis has logged is fitted, or refused with a reason: as it is, and of a few with samples
/// so far apart that the axis is simulated.
fn identified(scene: &dryturn_scene::Scene, number: u64) {
    let bench = Bench::of(scene, Seed::new(1).trial(number), Face::R);
    let to = |quarters, speed_share| BenchMove { quarters, speed_share, torque_share: 0.8 };
    let moves: Vec<BenchMove> =
        [1.0, 0.7, 0.4].into_iter().flat_map(|share| [to(1.0, share), to(-2.0, share)]).collect();
    let Ok(made) = bench.moves(&moves, LogNoise::default()) else { return };
    let csv = made.log.csv();
    let every = |stride: usize| -> String {
        let rows = csv.lines().skip(1).step_by(stride);
        let head = csv.lines().next().unwrap_or_default();
        core::iter::once(head).chain(rows).map(|line| format!("{line}\n")).collect()
    };
    let slow = (2.0 / scene.file().controller.loop_period_ms).ceil() as usize;
    let strides = if number % SLOW_EVERY == 60 { vec![1, slow] } else { vec![1] };
    for stride in strides {
        let log = motor::axis_log(&every(stride), &scene.file().drive);
        let Ok(log) = log else { continue };
        if let Err(error) = motor::identify(&[log], scene.file(), None) {
            assert!(error.to_string().len() < 500, "{number}: {error}");
        }
    }
}

fn all_end(count: u64, seed: u64) {
    let drawn = Drawn::driving(seed);
    let ended = timed(("executions", count), true, |number| executed(&drawn, number));
    let mut how: BTreeMap<&str, usize> = BTreeMap::new();
    ended.iter().for_each(|(_, end)| *how.entry(end.how).or_default() += 1);
    let limits: Vec<_> = ended.iter().filter_map(|(_, end)| end.limit).collect();
    let refused: usize = ended.iter().map(|(_, end)| end.refused).sum();
    let share = |of: fn(&Run) -> f64| ended.iter().map(|(_, end)| of(&end.run)).fold(0.0, f64::max);
    println!(
        "seed {seed}: {} executions end, {refused} draws refused; longest {:.3} of its time, {:.3} of \
         its steps ({:.1} s simulated); {how:?}; {limits:?}",
        ended.len(),
        share(|run| run.total_s / run.limits.run_s),
        share(|run| run.axis_steps as f64 / run.limits.axis_steps as f64),
        share(|run| run.total_s),
    );
    // Host and controllers end what they do; the simulation itself only runs out of steps.
    assert!(limits.iter().all(|limit| *limit == SimulationLimit::Steps), "{limits:?}");
}

#[test]
fn a_few_executions_end() {
    all_end(40, 1);
}

#[test]
#[ignore = "minutes: DRYTURN_DRAWN=2000 DRYTURN_DRAWN_SEED=n"]
fn executions_end() {
    let (count, seed) = crate::long_form();
    all_end(count, seed);
}
