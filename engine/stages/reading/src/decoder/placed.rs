//! Corners and edges together. They meet only in the parity of their permutations: on a legal
//! cube both are even or both odd; seen from another of the 24 ways to mount it, one of each.

use core::array::from_fn;

use dryturn_cube::{CORNERS, CubeState, EDGES, Facelet, corner_facelets, edge_facelets};
use dryturn_units::maths;

use super::Evidence;
use super::chain::{Arrangement, Chain, Weights};
use super::sums::Sums;
use crate::complete::paint;

/// How the permutation of the corners goes with that of the edges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Parity {
    /// Both are even, or both are odd.
    Same,
    /// One is even and one is odd.
    Other,
}

impl Parity {
    /// Something of the edges by the parity of the corners that go with them.
    fn of_edges(self, edges: [f64; 2]) -> [f64; 2] {
        if self == Self::Same { edges } else { [edges[1], edges[0]] }
    }

    /// The parity of the edges that goes with one of the corners, and back.
    fn other_kind(self, odd: usize) -> usize {
        if self == Self::Same { odd } else { 1 - odd }
    }
}

/// Piece and turn by slot, of both kinds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pieces {
    pub(super) corners: Arrangement<CORNERS>,
    pub(super) edges: Arrangement<EDGES>,
}

impl Pieces {
    /// The cube of pieces that belong together.
    pub(super) fn cube(&self) -> CubeState {
        let colours = paint(&self.corners, &self.edges);
        CubeState::from_colours(&colours).expect("chains end where all laws hold")
    }
}

/// Both chains of some evidence.
pub(super) struct Chains {
    corners: Chain<CORNERS, 3>,
    edges: Chain<EDGES, 2>,
}

/// Sums over all corners and over all edges.
pub(super) type BothSums = (Sums<CORNERS, 3>, Sums<EDGES, 2>);

/// What they say of the pieces of one kind of parity; centres are left out.
pub(super) struct Placed {
    /// The best pieces and their weight, and the next.
    pub(super) best: (f64, Pieces),
    pub(super) second: (f64, Pieces),
    /// Logarithm of the summed likelihood of all.
    pub(super) log_total: f64,
    /// Probability of each colour at each facelet but the centres.
    pub(super) facelets: [[f64; 6]; Facelet::COUNT],
    pub(super) corners: Weights<CORNERS, 3>,
    pub(super) edges: Weights<EDGES, 2>,
}

impl Chains {
    pub(super) fn of(evidence: &Evidence) -> Self {
        Self {
            corners: Chain::new(weights(evidence, corner_facelets)),
            edges: Chain::new(weights(evidence, edge_facelets)),
        }
    }

    /// Weights of the best corners and of the best edges, whatever the laws say.
    pub(super) fn best_without_laws(&self) -> [f64; 2] {
        [self.corners.best_without_laws(), self.edges.best_without_laws()]
    }

    /// The best pieces whose corners are permuted so.
    fn best_of(&self, odd: usize, parity: Parity) -> Pieces {
        let edges = self.edges.best_arrangement(parity.other_kind(odd));
        Pieces { corners: self.corners.best_arrangement(odd), edges }
    }

    /// By the parity of the corners: the weight of the best pieces.
    fn together(&self, parity: Parity) -> [f64; 2] {
        let (corners, edges) = (self.corners.best(), parity.of_edges(self.edges.best()));
        from_fn(|odd| corners[odd] + edges[odd])
    }

    /// The best pieces and their weight.
    pub(super) fn best(&self, parity: Parity) -> (f64, Pieces) {
        let together = self.together(parity);
        let odd = usize::from(together[1] > together[0]);
        (together[odd], self.best_of(odd, parity))
    }

    /// The next best pieces and their weight: other corners, other edges, or both and of the
    /// other parity.
    fn second(&self, parity: Parity) -> (f64, Pieces) {
        let together = self.together(parity);
        let odd = usize::from(together[1] > together[0]);
        let own = self.best_of(odd, parity);
        let (best_corners, best_edges) = (self.corners.best(), parity.of_edges(self.edges.best()));
        let (corners, corner_weight) = self.corners.second_best(odd);
        let (edges, edge_weight) = self.edges.second_best(parity.other_kind(odd));
        let mut second = (corner_weight + best_edges[odd], Pieces { corners, ..own });
        if best_corners[odd] + edge_weight > second.0 {
            second = (best_corners[odd] + edge_weight, Pieces { edges, ..own });
        }
        if together[1 - odd] > second.0 {
            second = (together[1 - odd], self.best_of(1 - odd, parity));
        }
        second
    }

    /// Sums over all corners and over all edges, which serve both kinds of parity.
    pub(super) fn sums(&self) -> BothSums {
        (Sums::of(&self.corners), Sums::of(&self.edges))
    }

    /// The best pieces, the next, and the probabilities of all.
    pub(super) fn placed(&self, (corner_sums, edge_sums): &BothSums, parity: Parity) -> Placed {
        let (corner_logs, edge_logs) = (corner_sums.logs(), parity.of_edges(edge_sums.logs()));
        let logs: [f64; 2] = from_fn(|odd| corner_logs[odd] + edge_logs[odd]);
        let most = logs[0].max(logs[1]);
        let log_total = most + maths::ln(logs.iter().map(|log| maths::exp(log - most)).sum());
        let parities = logs.map(|log| maths::exp(log - log_total));
        let corners = corner_sums.marginals(parities);
        let edges = edge_sums.marginals(parity.of_edges(parities));
        let mut facelets = [[0.0; 6]; Facelet::COUNT];
        spread(&mut facelets, &corners, corner_facelets);
        spread(&mut facelets, &edges, edge_facelets);
        let (best, second) = (self.best(parity), self.second(parity));
        Placed { best, second, log_total, facelets, corners, edges }
    }
}

/// Weights of pieces from what is said of colours at places.
fn weights<const N: usize, const T: usize>(
    evidence: &Evidence,
    facelets: impl Fn(usize) -> [Facelet; T],
) -> Weights<N, T> {
    let own: [[Facelet; T]; N] = from_fn(&facelets);
    let weight = |slot: usize, piece: usize, turn: usize| -> f64 {
        let at = |k: usize| evidence.at(own[slot][(k + turn) % T])[own[piece][k].face().index()];
        (0..T).map(at).sum()
    };
    from_fn(|slot| from_fn(|piece| from_fn(|turn| weight(slot, piece, turn))))
}

/// Adds the probabilities of pieces to those of colours at places.
fn spread<const N: usize, const T: usize>(
    facelets: &mut [[f64; 6]; Facelet::COUNT],
    marginals: &Weights<N, T>,
    of: impl Fn(usize) -> [Facelet; T],
) {
    for (slot, pieces) in marginals.iter().enumerate() {
        for (piece, turns) in pieces.iter().enumerate() {
            for (turn, probability) in turns.iter().enumerate() {
                for k in 0..T {
                    let place = of(slot)[(k + turn) % T];
                    facelets[place.index()][of(piece)[k].face().index()] += probability;
                }
            }
        }
    }
}
