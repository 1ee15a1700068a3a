//! The most probable legal cube, and how probable it is, over all
//! 43,252,003,274,489,856,000 of them.
//!
//! Each facelet brings the log-likelihoods of its six colours; a facelet that nothing
//! shows brings none. A cube's weight is their sum at its 54 colours, and all legal cubes
//! are equally probable beforehand. Corners and edges meet only in the parity of their
//! permutations, so each kind is a chain of its own.

mod chain;
mod mounting;
mod placed;
mod sums;

use dryturn_cube::{CORNERS, Colouring, CubeState, EDGES, Face, Facelet, FaceletKind};
use dryturn_units::maths;

pub(crate) use self::mounting::in_rig;
pub use self::mounting::{Centres, Mounted, decode_any_mounting, decode_as_drawn, mountings};
use self::placed::{Chains, Parity, Pieces};

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
}

/// The most probable legal cube. Among equals always the same one.
#[must_use]
pub fn most_probable(evidence: &Evidence) -> Weighted {
    let (weight, pieces) = Chains::of(evidence).best(Parity::Same);
    Weighted { state: pieces.cube(), weight: weight + evidence.centres() }
}

/// Weights of the best eight corners and of the best twelve edges, each piece once, if
/// twists, flips and parity need not add up. What the most probable cube lacks to their
/// sum is what the laws cost.
#[must_use]
pub fn best_without_laws(evidence: &Evidence) -> [f64; 2] {
    Chains::of(evidence).best_without_laws()
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
    let chains = Chains::of(evidence);
    let placed = chains.placed(&chains.sums(), Parity::Same);
    let centres = evidence.centres();
    let weighted = |(weight, pieces): &(f64, Pieces)| Weighted {
        state: pieces.cube(),
        weight: weight + centres,
    };
    let mut facelets = placed.facelets;
    Face::ALL.into_iter().for_each(|f| facelets[Facelet::new(f, 1, 1).index()][f.index()] = 1.0);
    Decoded {
        best: weighted(&placed.best),
        second: weighted(&placed.second),
        log_total: placed.log_total + centres,
        facelets,
        corners: placed.corners,
        edges: placed.edges,
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
