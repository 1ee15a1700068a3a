//! The most probable legal cube, and how probable it is, over all
//! 43,252,003,274,489,856,000 of them.
//!
//! Each facelet brings the log-likelihoods of its six colours; a facelet that nothing
//! shows brings none. A cube's weight is their sum at its 54 colours, and all legal cubes
//! are equally probable beforehand. Corners and edges meet only in the parity of their
//! permutations, so each kind is a chain of its own.

mod chain;
mod mounting;

use core::array::from_fn;

use dryturn_cube::{
    CORNERS, Colouring, CubeState, EDGES, Face, Facelet, FaceletKind, corner_facelets,
    edge_facelets,
};
use dryturn_units::maths;

use self::chain::{Arrangement, Chain, Weights};
pub(crate) use self::mounting::in_rig;
pub use self::mounting::{Centres, Mounted, decode_any_mounting, decode_as_drawn, mountings};
use crate::complete::paint;

/// Cubes whose weight is further below the best than this are left out of sums. All of
/// them together have less than 10⁻¹⁵ of the best one's probability:
/// 4.33·10¹⁹ · e⁻⁸⁰ = 7.8·10⁻¹⁶.
const CUT: f64 = 80.0;

/// Log-likelihoods of the six colours, in the order U R F D L B, at each facelet, by
/// facelet index. Only differences within a facelet count; all equal says nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence([[f64; 6]; Facelet::COUNT]);

/// A cube with its weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighted {
    /// The cube.
    pub state: CubeState,
    /// Sum of the log-likelihoods of its colours.
    pub weight: f64,
}

/// Everything that evidence says about the cube.
#[derive(Clone, Debug, PartialEq)]
pub struct Decoded {
    /// The most probable cube.
    pub best: Weighted,
    /// The next one.
    pub second: Weighted,
    /// Logarithm of the summed likelihood of all legal cubes.
    pub log_total: f64,
    /// Probability of each colour at each facelet, by facelet index and colour.
    pub facelets: [[f64; 6]; Facelet::COUNT],
    /// Probability of each corner in each slot and twist, by slot, piece and twist.
    pub corners: [[[f64; 3]; CORNERS]; CORNERS],
    /// Probability of each edge in each slot and flip, by slot, piece and flip.
    pub edges: [[[f64; 2]; EDGES]; EDGES],
}

impl Evidence {
    /// Nothing is known but the centres, which the mounting fixes.
    #[must_use]
    pub fn none() -> Self {
        Self([[0.0; 6]; Facelet::COUNT])
    }

    /// Takes what a facelet says; values that are not finite count as none.
    pub fn set(&mut self, facelet: Facelet, log_likelihoods: [f64; 6]) {
        let usable = log_likelihoods.iter().all(|l| l.is_finite());
        self.0[facelet.index()] = if usable { log_likelihoods } else { [0.0; 6] };
    }

    /// What a facelet says.
    #[must_use]
    pub fn at(&self, facelet: Facelet) -> &[f64; 6] {
        &self.0[facelet.index()]
    }

    /// Sum of the log-likelihoods of a cube's colours, centres included.
    #[must_use]
    pub fn weight(&self, colours: &Colouring) -> f64 {
        self.0.iter().zip(colours).map(|(own, face)| own[face.index()]).sum()
    }

    fn centres(&self) -> f64 {
        let centres = Facelet::all().filter(|f| f.kind() == FaceletKind::Centre);
        centres.map(|f| self.at(f)[f.face().index()]).sum()
    }

    fn corners(&self) -> Chain<CORNERS, 3> {
        Chain::new(weights(|place, colour| self.at(place)[colour.index()], corner_facelets))
    }

    fn edges(&self) -> Chain<EDGES, 2> {
        Chain::new(weights(|place, colour| self.at(place)[colour.index()], edge_facelets))
    }
}

/// Weights of pieces from those of colours at places.
fn weights<const N: usize, const T: usize>(
    at: impl Fn(Facelet, Face) -> f64,
    facelets: impl Fn(usize) -> [Facelet; T],
) -> Weights<N, T> {
    let own: [[Facelet; T]; N] = from_fn(&facelets);
    let weight = |slot: usize, piece: usize, turn: usize| -> f64 {
        (0..T).map(|k| at(own[slot][(k + turn) % T], own[piece][k].face())).sum()
    };
    from_fn(|slot| from_fn(|piece| from_fn(|turn| weight(slot, piece, turn))))
}

/// The cube of two arrangements that belong together.
fn cube(corners: &Arrangement<CORNERS>, edges: &Arrangement<EDGES>) -> CubeState {
    CubeState::from_colours(&paint(corners, edges)).expect("chains end where all laws hold")
}

/// The parity whose best corners and best edges are best together.
fn best_parity(corners: [f64; 2], edges: [f64; 2]) -> usize {
    usize::from(corners[1] + edges[1] > corners[0] + edges[0])
}

/// The most probable legal cube. Among equals always the same one.
#[must_use]
pub fn most_probable(evidence: &Evidence) -> Weighted {
    let (corners, edges) = (evidence.corners(), evidence.edges());
    let odd = best_parity(corners.best(), edges.best());
    let state = cube(&corners.best_arrangement(odd), &edges.best_arrangement(odd));
    Weighted { state, weight: corners.best()[odd] + edges.best()[odd] + evidence.centres() }
}

/// Weights of the best eight corners and of the best twelve edges, each piece once, if
/// twists, flips and parity need not add up. What the most probable cube lacks to their
/// sum is what the laws cost.
#[must_use]
pub fn best_without_laws(evidence: &Evidence) -> [f64; 2] {
    [evidence.corners().best_without_laws(), evidence.edges().best_without_laws()]
}

/// What the laws cost the most probable cube: by how much pieces each used once fit better
/// if twists, flips and parity need not add up.
#[must_use]
pub fn law_cost(evidence: &Evidence, best: &Weighted) -> f64 {
    best_without_laws(evidence).iter().sum::<f64>() + evidence.centres() - best.weight
}

/// The most probable cube, the next one, and the probabilities of all.
#[must_use]
pub fn decode(evidence: &Evidence) -> Decoded {
    let (corners, edges) = (evidence.corners(), evidence.edges());
    let (best_corners, best_edges) = (corners.best(), edges.best());
    let odd = best_parity(best_corners, best_edges);
    let together: [f64; 2] = from_fn(|odd| best_corners[odd] + best_edges[odd]);
    let top = together[odd];
    let own = (corners.best_arrangement(odd), edges.best_arrangement(odd));

    // The next one differs in the corners, in the edges, or in both and the parity.
    let (other_corners, corner_weight) = corners.second_best(odd);
    let (other_edges, edge_weight) = edges.second_best(odd);
    let mut second = (corner_weight + best_edges[odd], (other_corners, own.1));
    if best_corners[odd] + edge_weight > second.0 {
        second = (best_corners[odd] + edge_weight, (own.0, other_edges));
    }
    if together[1 - odd] > second.0 {
        let other = (corners.best_arrangement(1 - odd), edges.best_arrangement(1 - odd));
        second = (together[1 - odd], other);
    }

    let least = top - CUT;
    let corner_sums = corners.sums(best_edges, least);
    let edge_sums = edges.sums(best_corners, least);
    let mass: [f64; 2] = from_fn(|odd| {
        maths::exp(together[odd] - top) * corner_sums.ways[odd] * edge_sums.ways[odd]
    });
    let all = mass[0] + mass[1];
    let parities = mass.map(|m| m / all);
    let corner_marginals = corners.marginals(&corner_sums, parities);
    let edge_marginals = edges.marginals(&edge_sums, parities);
    let mut facelets = [[0.0; 6]; Facelet::COUNT];
    Face::ALL.into_iter().for_each(|f| facelets[Facelet::new(f, 1, 1).index()][f.index()] = 1.0);
    spread(&mut facelets, &corner_marginals, corner_facelets);
    spread(&mut facelets, &edge_marginals, edge_facelets);

    let centres = evidence.centres();
    let weighted = |weight: f64, (corners, edges): &(Arrangement<CORNERS>, Arrangement<EDGES>)| {
        Weighted { state: cube(corners, edges), weight: weight + centres }
    };
    Decoded {
        best: weighted(top, &own),
        second: weighted(second.0, &second.1),
        log_total: top + centres + maths::ln(all),
        facelets,
        corners: corner_marginals,
        edges: edge_marginals,
    }
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

impl Decoded {
    /// Probability of the most probable cube, 0 to 1.
    #[must_use]
    pub fn probability(&self) -> f64 {
        maths::exp(self.log_probability()).min(1.0)
    }

    /// Its logarithm.
    #[must_use]
    pub fn log_probability(&self) -> f64 {
        self.best.weight - self.log_total
    }
}
