//! Time of the decoder on one core: the best cube alone, and with all probabilities, for
//! evidence from certain to none.
//!
//! `cargo bench -p dryturn-reading`

use std::hint::black_box;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use dryturn_cube::{Facelet, FaceletKind, random_state};
use dryturn_reading::decoder::{Evidence, decode, most_probable};
use dryturn_units::noise::Seed;

/// Evidence of the 42 facelets that two cameras see: the true colour leads by `lead` on
/// average, all log-likelihoods vary by as much.
fn evidence(number: u64, lead: f64) -> Evidence {
    let mut noise = Seed::new(5).stream("bench", number, 0);
    let state = random_state(&mut noise);
    let hidden = ["ULB", "RBD", "FDL", "DFR", "LUF", "BRU"];
    let mut evidence = Evidence::none();
    for (facelet, colour) in Facelet::all().zip(state.colours()) {
        if facelet.kind() != FaceletKind::Centre && !hidden.contains(&facelet.name()) {
            let mut own = std::array::from_fn(|_| noise.between(-lead, lead));
            own[colour.index()] += lead;
            evidence.set(facelet, own);
        }
    }
    evidence
}

fn bench(criterion: &mut Criterion) {
    for (name, lead) in [("certain", 60.0), ("clear", 15.0), ("doubtful", 3.0), ("none", 0.0)] {
        let mut number = 0;
        let mut next = move || {
            number += 1;
            evidence(number, lead)
        };
        let mut other = next;
        criterion.bench_function(&format!("most probable, {name}"), |bencher| {
            bencher.iter_batched(
                &mut next,
                |e| black_box(most_probable(&e)),
                BatchSize::SmallInput,
            );
        });
        criterion.bench_function(&format!("all probabilities, {name}"), |bencher| {
            bencher.iter_batched(&mut other, |e| black_box(decode(&e)), BatchSize::SmallInput);
        });
    }
}

criterion_group!(benches, bench);
criterion_main!(benches);
