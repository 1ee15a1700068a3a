//! Nodes per second and time to the first plan, with compact tables and with large
//! ones (built first, in memory; half a minute).
//!
//! `cargo bench -p dryturn-planning`
#![allow(missing_docs)] // criterion's macros

use core::hint::black_box;
use core::ops::ControlFlow;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use dryturn_cube::{CubeState, random_state};
use dryturn_planning::{Budget, Metric, Objective, Planner, TableBytes, TableKind, Weights};
use dryturn_units::noise::Seed;

const NODES: u64 = 200_000;

fn state(trial: u64) -> CubeState {
    random_state(&mut Seed::new(7).stream("scramble", trial, 0))
}

fn search(c: &mut Criterion) {
    for large in [false, true] {
        let tables = if large { "large" } else { "compact" };
        for (name, objective) in [
            ("turns", Objective::FewestTurns),
            ("time", Objective::LeastTime(Weights::TWO_TO_THREE)),
        ] {
            let planner = planner(large.then_some(objective.metric()));
            planner.prepare(objective);
            let mut group = c.benchmark_group(format!("{name}, {tables} tables"));
            group.sample_size(20);
            group.throughput(Throughput::Elements(NODES));
            let mut trial = 0;
            let mut next = || {
                trial += 1;
                state(trial)
            };
            group.bench_function("nodes", |b| {
                b.iter_batched(
                    &mut next,
                    |state| planner.plan(black_box(&state), objective, NODES),
                    BatchSize::SmallInput,
                );
            });
            group.throughput(Throughput::Elements(1));
            group.bench_function("first plan", |b| {
                b.iter_batched(
                    &mut next,
                    |state| {
                        let budget = Budget::Nodes(NODES);
                        planner.search(black_box(&state), objective, &budget, &mut |_| {
                            ControlFlow::Break(())
                        })
                    },
                    BatchSize::SmallInput,
                );
            });
            group.finish();
        }
    }
}

fn planner(large: Option<Metric>) -> Planner {
    let planner = Planner::new();
    if let Some(metric) = large {
        let table = |kind: TableKind| -> TableBytes { Box::new(kind.build(&|_| ())) };
        let both = TableKind::of(metric).map(table);
        planner.use_large(metric, both).expect("a table has its kind's length");
    }
    planner
}

criterion_group!(benches, search);
criterion_main!(benches);
