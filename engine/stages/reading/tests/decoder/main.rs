//! The decoder: against exhaustive search over everything that it claims to have summed
//! (`exhaustive.rs`), and on what must hold whatever is seen.

mod exhaustive;

use dryturn_cube::{CubeState, Face, Facelet, FaceletKind, random_state};
use dryturn_reading::decoder::{Evidence, best_without_laws, decode, most_probable};
use dryturn_reading::{Completion, complete};
use dryturn_units::maths;
use dryturn_units::noise::{Noise, Seed};
use rayon::prelude::*;

fn noise(name: &'static str, table: u64) -> Noise {
    Seed::new(11).stream(name, table, 0)
}

/// Random log-likelihoods of a size, over all places of a kind; those of the true state's
/// colours are raised.
fn table(
    noise: &mut Noise,
    kinds: &[FaceletKind],
    spread: f64,
    raise: f64,
) -> (Evidence, CubeState) {
    let state = random_state(noise);
    let mut evidence = Evidence::none();
    for (facelet, colour) in Facelet::all().zip(state.colours()) {
        if kinds.contains(&facelet.kind()) {
            let mut own = core::array::from_fn(|_| noise.between(-spread, 0.0));
            own[colour.index()] += raise;
            evidence.set(facelet, own);
        }
    }
    (evidence, state)
}

/// Marginals are probabilities, and those of places follow from those of pieces.
#[test]
fn marginals_add_up() {
    let kinds = [FaceletKind::Corner, FaceletKind::Edge];
    for (number, spread) in [(0, 0.0), (1, 2.0), (2, 40.0), (3, 4000.0)] {
        let (evidence, _) = table(&mut noise("sums", number), &kinds, spread, 0.0);
        let decoded = decode(&evidence);
        let one = |sum: f64| assert!((sum - 1.0).abs() < 1e-12, "{number}: {sum}");
        decoded.facelets.iter().for_each(|own| one(own.iter().sum()));
        decoded.corners.iter().for_each(|slot| one(slot.iter().flatten().sum()));
        decoded.edges.iter().for_each(|slot| one(slot.iter().flatten().sum()));
        for colour in 0..6 {
            let nine: f64 = decoded.facelets.iter().map(|own| own[colour]).sum();
            assert!((nine - 9.0).abs() < 1e-11);
        }
        assert!(decoded.second.weight <= decoded.best.weight);
        assert!(decoded.second.state != decoded.best.state);
        // The laws can only cost.
        let [corners, edges] = best_without_laws(&evidence);
        assert!(corners + edges >= decoded.best.weight - 1e-9);
    }
    // Without any evidence all cubes are alike: 43,252,003,274,489,856,000 of them.
    let all = decode(&Evidence::none());
    assert!((all.log_total - maths::ln(43_252_003_274_489_856_000.0)).abs() < 1e-9);
    assert!((all.corners[3][5][1] - 1.0 / 24.0).abs() < 1e-12);
    assert!((all.facelets[0][0] - 1.0 / 6.0).abs() < 1e-12, "four of 24 corner facelets");
}

/// Six hidden facelets, on six corners, and all else right: every one of 10,000 random
/// cubes is completed right. One facelet taken for its red or orange twin as well, and
/// the answer is the best of all cubes that fit the rest.
#[test]
fn hidden_facelets_are_inferred_and_a_wrong_one_is_outvoted() {
    let hidden = ["ULB", "RBD", "FDL", "DFR", "LUF", "BRU"].map(|n| Facelet::from_name(n).unwrap());
    let (red, orange) = (Face::R, Face::L);
    (0..10_000u64).into_par_iter().for_each(|number| {
        let mut noise = noise("hidden", number);
        let state = random_state(&mut noise);
        let mut evidence = Evidence::none();
        for (facelet, colour) in Facelet::all().zip(state.colours()) {
            if !hidden.contains(&facelet) {
                evidence.set(
                    facelet,
                    core::array::from_fn(|c| if c == colour.index() { 0.0 } else { -20.0 }),
                );
            }
        }
        let decoded = decode(&evidence);
        assert_eq!(decoded.best.state, state, "{number}");
        assert_eq!(most_probable(&evidence).state, state);
        assert!(decoded.probability() > 0.99);

        // One seen facelet looks a little more like its twin.
        let twins: Vec<(Facelet, Face)> = Facelet::all()
            .zip(state.colours())
            .filter(|(f, c)| {
                f.kind() != FaceletKind::Centre && [red, orange].contains(c) && !hidden.contains(f)
            })
            .collect();
        let (facelet, colour) = twins[(noise.uniform() * twins.len() as f64) as usize];
        let twin = if colour == red { orange } else { red };
        let mut own = [-20.0; 6];
        own[twin.index()] = 0.0;
        own[colour.index()] = -3.0;
        evidence.set(facelet, own);
        let mut rest: [Option<Face>; Facelet::COUNT] = state.colours().map(Some);
        hidden.iter().chain([&facelet]).for_each(|f| rest[f.index()] = None);
        // Every cube that fits the rest: there is but one.
        let Completion::Only(only) = complete(&rest) else { panic!("{number}: {facelet}") };
        assert_eq!(decode(&evidence).best.state, only, "{number}: {facelet}");
    });
}
