//! Against exhaustive search: all corner states, and all cubes where the rest is certain.

use dryturn_cube::legality::is_odd;
use dryturn_cube::{CORNERS, EDGES, Facelet, FaceletKind, corner_facelets, edge_facelets};
use dryturn_reading::decoder::{Evidence, decode, most_probable};
use dryturn_units::maths;
use rayon::prelude::*;

use super::{noise, table};

/// Weights of piece and turn at a slot.
fn weight<const T: usize>(
    evidence: &Evidence,
    places: [Facelet; T],
    own: [Facelet; T],
    turn: usize,
) -> f64 {
    (0..T).map(|k| evidence.at(places[(k + turn) % T])[own[k].face().index()]).sum()
}

/// Weight of a whole arrangement: piece and turn by slot.
fn whole_weight<const T: usize>(
    evidence: &Evidence,
    facelets: fn(usize) -> [Facelet; T],
    own: &[(usize, usize)],
) -> f64 {
    let of = |(slot, &(piece, turn)): (usize, &(usize, usize))| {
        weight(evidence, facelets(slot), facelets(piece), turn)
    };
    own.iter().enumerate().map(of).sum()
}

/// All arrangements of a kind, one by one: how many, the sum over all, the best, and the
/// sums by slot, piece and turn.
struct Exhaustive<'a> {
    slots: usize,
    turns: usize,
    weights: &'a [f64],
    factors: Vec<f64>,
    count: u64,
    best: f64,
    by_place: Vec<f64>,
}

impl Exhaustive<'_> {
    /// Everything below a partial arrangement; returns the sum of its factors.
    fn go(&mut self, used: u32, sum: usize, weight: f64, factor: f64) -> f64 {
        let slot = used.count_ones() as usize;
        if slot == self.slots {
            if !sum.is_multiple_of(self.turns) {
                return 0.0;
            }
            self.count += 1;
            self.best = self.best.max(weight);
            return factor;
        }
        let mut all = 0.0;
        for piece in (0..self.slots).filter(|piece| used >> piece & 1 == 0) {
            for turn in 0..self.turns {
                let at = (slot * self.slots + piece) * self.turns + turn;
                let (weight, factor) = (weight + self.weights[at], factor * self.factors[at]);
                let below = self.go(used | 1 << piece, sum + turn, weight, factor);
                self.by_place[at] += below;
                all += below;
            }
        }
        all
    }
}

fn corner_weights(evidence: &Evidence) -> Vec<f64> {
    let all =
        (0..CORNERS).flat_map(|s| (0..CORNERS).flat_map(move |p| (0..3).map(move |t| (s, p, t))));
    all.map(|(s, p, t)| weight(evidence, corner_facelets(s), corner_facelets(p), t)).collect()
}

/// All 88,179,840 corner states (8! · 3⁷, both parities), for twenty tables of evidence:
/// the best, the total and every marginal. Edges say nothing.
#[test]
fn corners_against_all_their_states() {
    // ln(12!/2 · 2¹¹): as many edges go with each corner state.
    let edges = maths::ln(239_500_800.0 * 2048.0);
    (0..20u64).into_par_iter().for_each(|number| {
        let (spread, raise) =
            [(1.0, 0.0), (6.0, 1.0), (12.0, 8.0), (30.0, 0.0)][number as usize % 4];
        let kinds = [FaceletKind::Corner];
        let (evidence, _) = table(&mut noise("corners", number), &kinds, spread, raise);
        let weights = corner_weights(&evidence);
        let mut brute = Exhaustive {
            slots: CORNERS,
            turns: 3,
            weights: &weights,
            factors: weights.iter().map(|w| maths::exp(*w)).collect(),
            count: 0,
            best: f64::NEG_INFINITY,
            by_place: vec![0.0; weights.len()],
        };
        let total = brute.go(0, 0, 0.0, 1.0);
        assert_eq!(brute.count, 88_179_840);
        let decoded = decode(&evidence);
        let best = brute.best;
        assert!((decoded.best.weight - best).abs() < 1e-9, "{number}");
        assert!((most_probable(&evidence).weight - best).abs() < 1e-9);
        assert!((evidence.weight(&decoded.best.state.colours()) - best).abs() < 1e-9);
        let log_total = maths::ln(total) + edges;
        assert!((decoded.log_total - log_total).abs() < 1e-9, "{number}: {log_total}");
        for (at, sum) in brute.by_place.iter().enumerate() {
            let (slot, piece, turn) = (at / 24, at / 3 % 8, at % 3);
            let wanted = sum / total;
            assert!((decoded.corners[slot][piece][turn] - wanted).abs() < 1e-9, "{number}");
        }
    });
}

/// Arrangements of a few slots only, the rest at home: piece and turn by slot, whether
/// odd.
fn partial(slots: usize, turns: usize, free: &[usize]) -> Vec<(Vec<(usize, usize)>, bool)> {
    let mut all = Vec::new();
    let mut stack = vec![vec![]];
    while let Some(chosen) = stack.pop() {
        if chosen.len() == free.len() {
            let mut whole: Vec<(usize, usize)> = (0..slots).map(|slot| (slot, 0)).collect();
            free.iter().zip(&chosen).for_each(|(&slot, &own)| whole[slot] = own);
            if whole.iter().map(|own| own.1).sum::<usize>().is_multiple_of(turns) {
                let pieces: Vec<u8> = whole.iter().map(|own| own.0 as u8).collect();
                all.push((whole, is_odd(&pieces)));
            }
            continue;
        }
        for &piece in
            free.iter().filter(|p| !chosen.iter().any(|own: &(usize, usize)| own.0 == **p))
        {
            for turn in 0..turns {
                let mut longer = chosen.clone();
                longer.push((piece, turn));
                stack.push(longer);
            }
        }
    }
    all
}

/// Six edges and four corners are open, all else is certain: every one of the
/// 6! · 2⁵ · 4! · 3³ / 2 = 7,464,960 cubes that are left, corners and edges together.
#[test]
fn edges_and_parity_against_all_cubes_that_are_left() {
    (0..6u64).into_par_iter().for_each(|number| {
        let mut noise = noise("joint", number);
        let mut pick = |count: usize, of: usize| -> Vec<usize> {
            let mut left: Vec<usize> = (0..of).collect();
            (0..count)
                .map(|_| left.remove((noise.uniform() * left.len() as f64) as usize))
                .collect()
        };
        let (free_edges, free_corners) = (pick(6, EDGES), pick(4, CORNERS));
        let spread = [1.0, 5.0, 15.0][number as usize % 3];
        let mut evidence = Evidence::none();
        for facelet in Facelet::all().filter(|f| f.kind() != FaceletKind::Centre) {
            let open = free_edges.iter().any(|&s| edge_facelets(s).contains(&facelet))
                || free_corners.iter().any(|&s| corner_facelets(s).contains(&facelet));
            let own = core::array::from_fn(|colour| {
                if open {
                    noise.between(-spread, 0.0)
                } else if colour == facelet.face().index() {
                    0.0
                } else {
                    -900.0
                }
            });
            evidence.set(facelet, own);
        }
        let corners = partial(CORNERS, 3, &free_corners);
        let edges = partial(EDGES, 2, &free_edges);
        assert_eq!((corners.len(), edges.len()), (648, 23_040));
        let corner_weights: Vec<f64> =
            corners.iter().map(|own| whole_weight(&evidence, corner_facelets, &own.0)).collect();
        let edge_weights: Vec<f64> =
            edges.iter().map(|own| whole_weight(&evidence, edge_facelets, &own.0)).collect();
        let (mut total, mut best, mut second) = (0.0, f64::NEG_INFINITY, f64::NEG_INFINITY);
        let mut cubes = 0;
        let mut of_edge = [[[0.0; 2]; EDGES]; EDGES];
        for (edge, weight) in edges.iter().zip(&edge_weights) {
            let mut with_this = 0.0;
            for (corner, own) in corners.iter().zip(&corner_weights) {
                if corner.1 == edge.1 {
                    cubes += 1;
                    let weight = weight + own;
                    with_this += maths::exp(weight);
                    if weight > best {
                        (second, best) = (best, weight);
                    } else {
                        second = second.max(weight);
                    }
                }
            }
            total += with_this;
            for (slot, &(piece, turn)) in edge.0.iter().enumerate() {
                of_edge[slot][piece][turn] += with_this;
            }
        }
        assert_eq!(cubes, 7_464_960);
        let decoded = decode(&evidence);
        assert!((decoded.best.weight - best).abs() < 1e-9, "{number}");
        assert!((decoded.second.weight - second).abs() < 1e-9, "{number}");
        assert!((evidence.weight(&decoded.second.state.colours()) - second).abs() < 1e-9);
        assert!((decoded.log_probability() - (best - maths::ln(total))).abs() < 1e-9);
        for (slot, piece, turn) in
            (0..EDGES).flat_map(|s| (0..EDGES).flat_map(move |p| (0..2).map(move |t| (s, p, t))))
        {
            let wanted = of_edge[slot][piece][turn] / total;
            assert!((decoded.edges[slot][piece][turn] - wanted).abs() < 1e-9, "{number}");
        }
    });
}
