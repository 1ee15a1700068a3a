//! How long a simulated execution takes: 20 turns on six axes, with figures alone and with
//! the whole trace; the same rig drawn anew each time.
//!
//! `cargo bench -p dryturn-driving`
#![allow(missing_docs)] // criterion's macros

use core::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use dryturn_cube::{CubeState, notation};
use dryturn_driving::{Detail, Machine};
use dryturn_handoff::{End, Plan};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;

/// `tests/reference/drive_speed.py` has the same.
const TURNS: &str = "R U2 F' D L B2 U D' R2 F L' B U2 R D F2 L' U B' R";

fn executions(c: &mut Criterion) {
    let text = include_str!("../../../../scenes/workbench.ron");
    let scene = Scene::parse(text, "workbench.ron").expect("the workbench is valid");
    let machine = Machine::of(&scene);
    let turns = notation::parse(TURNS).expect("these are turns");
    let plan = Plan::of_turns(&turns);
    let run = |trial: u64, detail: Detail| {
        machine.run(&CubeState::SOLVED, black_box(&plan), Seed::new(1).trial(trial), detail)
    };
    assert_eq!((turns.len(), run(0, Detail::Figures).end), (20, End::Completed));
    let mut group = c.benchmark_group("execution of 20 turns, six axes");
    group.sample_size(20);
    for (name, detail) in [("figures", Detail::Figures), ("trace", Detail::Trace)] {
        let mut trial = 0;
        group.bench_function(name, |b| {
            b.iter(|| {
                trial += 1;
                run(trial, detail)
            });
        });
    }
    group.finish();
}

criterion_group!(benches, executions);
criterion_main!(benches);
