//! A cube that nobody knows the mounting of.

use dryturn_cube::{Face, Facelet, FaceletKind, random_state};
use dryturn_reading::decoder::{Evidence, decode, decode_any_mounting, decode_as_drawn, mountings};
use dryturn_units::maths;
use dryturn_units::noise::Seed;

/// Noise of a size over all 54 facelets; what a cube in a mounting shows is raised.
fn evidence(case: u64, centres: [Face; 6], raise: f64) -> (Evidence, dryturn_cube::CubeState) {
    let mut noise = Seed::new(12).stream("mounting-test", case, 0);
    let state = random_state(&mut noise);
    let mut evidence = Evidence::none();
    for (facelet, colour) in Facelet::all().zip(state.colours()) {
        let mut own = core::array::from_fn(|_| noise.between(-3.0, 0.0));
        own[centres[colour.index()].index()] += raise;
        evidence.set(facelet, own);
    }
    (evidence, state)
}

/// Rotations of a cube: 24, all different, opposite faces stay opposite, and none is a
/// mirror image (an even permutation of the faces' axes with their signs).
#[test]
fn there_are_24_mountings() {
    let all = mountings();
    assert_eq!(all.len(), 24);
    assert_eq!(all[0], Face::ALL);
    let normal = |face: Face| face.normal();
    let triple = |[a, b, c]: [[i32; 3]; 3]| {
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    };
    let wanted = triple([Face::U, Face::R, Face::F].map(normal));
    for (k, centres) in all.iter().enumerate() {
        assert!(!all[..k].contains(centres));
        let [u, r, f, d, l, b] = centres.map(normal);
        for (one, other) in [(u, d), (r, l), (f, b)] {
            assert!((0..3).all(|k| one[k] == -other[k]));
        }
        // The triple product of three faces round a corner keeps its sign.
        assert_eq!(triple([u, r, f]), wanted, "{centres:?}");
    }
}

/// The sum over all mountings, the best of them, and probabilities of colours, against one
/// decoding after another of evidence turned by hand.
#[test]
fn all_mountings_together_are_the_sum_of_each() {
    for (case, centres) in mountings().into_iter().enumerate() {
        let raise = [0.5, 2.0, 6.0][case % 3];
        let (evidence, _) = evidence(case as u64, centres, raise);
        let mounted = decode_any_mounting(&evidence);
        let each: Vec<_> = mountings()
            .into_iter()
            .map(|centres| {
                let mut turned = Evidence::none();
                for facelet in Facelet::all() {
                    let own = evidence.at(facelet);
                    turned.set(facelet, centres.map(|colour| own[colour.index()]));
                }
                (centres, decode(&turned))
            })
            .collect();
        let best = each.iter().max_by(|a, b| a.1.best.weight.total_cmp(&b.1.best.weight)).unwrap();
        assert_eq!(mounted.centres, best.0, "case {case}");
        assert_eq!(mounted.decoded.best.state, best.1.best.state);
        assert!((mounted.decoded.best.weight - best.1.best.weight).abs() < 1e-9);
        for (slot, pieces) in best.1.corners.iter().enumerate() {
            for (piece, turns) in pieces.iter().enumerate() {
                let found = mounted.decoded.corners[slot][piece];
                assert!(
                    (0..3).all(|turn| (found[turn] - turns[turn]).abs() < 1e-9),
                    "{slot} {piece}"
                );
            }
        }
        let top = best.1.log_total;
        let sum: f64 = each.iter().map(|(_, d)| maths::exp(d.log_total - top)).sum();
        let log_total = top + maths::ln(sum);
        assert!((mounted.decoded.log_total - log_total).abs() < 1e-9);
        for facelet in Facelet::all() {
            for colour in Face::ALL {
                let wanted: f64 = each
                    .iter()
                    .map(|(centres, d)| {
                        let face = centres.iter().position(|c| *c == colour).unwrap();
                        maths::exp(d.log_total - log_total) * d.facelets[facelet.index()][face]
                    })
                    .sum();
                let found = mounted.decoded.facelets[facelet.index()][colour.index()];
                assert!((found - wanted).abs() < 1e-9, "case {case}, {facelet}, {colour}");
            }
        }
    }
}

/// Clear evidence finds cube and mounting; without the centres nothing tells twelve
/// mountings apart, and the answer says so.
#[test]
fn the_centres_tell_how_it_is_mounted() {
    for (case, centres) in mountings().into_iter().enumerate() {
        let (mut evidence, state) = evidence(case as u64, centres, 9.0);
        let mounted = decode_any_mounting(&evidence);
        assert_eq!((mounted.centres, mounted.decoded.best.state), (centres, state));
        assert!(mounted.decoded.probability() > 0.999);
        for facelet in Facelet::all().filter(|f| f.kind() == FaceletKind::Centre) {
            evidence.set(facelet, [0.0; 6]);
        }
        let blind = decode_any_mounting(&evidence).decoded;
        assert!((blind.probability() - 1.0 / 12.0).abs() < 1e-3, "{}", blind.probability());
        assert!((blind.best.weight - blind.second.weight).abs() < 1e-9);
    }
}

#[test]
fn as_drawn_is_the_plain_decoder() {
    let (evidence, _) = evidence(99, Face::ALL, 1.0);
    let mounted = decode_as_drawn(&evidence);
    assert_eq!(mounted.centres, Face::ALL);
    assert_eq!(mounted.decoded, decode(&evidence));
}
