//! From 54 colours to a state, or the law that they break.

use core::fmt;

use thiserror::Error;

use crate::{
    CORNERS, CubeState, EDGES, Face, Facelet, FaceletKind, corner_facelets, corner_index,
    edge_facelets, edge_index,
};

/// The colour at each place, as the face whose centre has that colour in the
/// solved cube; index order of [`Facelet`].
pub type Colouring = [Face; Facelet::COUNT];

/// The law of the cube that a colouring breaks. The checks go from the coarse to the
/// fine, and the first one broken is reported.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum StateError {
    /// A colour must occur nine times.
    #[error("colour count: {}; each colour must occur 9 times", Counts(counts))]
    ColourCount {
        /// Occurrences by face.
        counts: [usize; 6],
    },
    /// A centre does not have its own face's colour.
    #[error(
        "centre: the centre of {face} has the colour of {found}; centres must be U R F D L B each \
         on its own face"
    )]
    Centre {
        /// The place.
        face: Face,
        /// The colour there.
        found: Face,
    },
    /// Colours that no piece of the cube has in this sense of rotation.
    #[error(
        "piece missing: {place} shows the colours {}, which no {kind} of the cube has",
        Letters(colours)
    )]
    NoSuchPiece {
        /// "corner" or "edge".
        kind: &'static str,
        /// The place, by its reference facelet.
        place: Facelet,
        /// Colours, clockwise from the reference facelet.
        colours: Vec<Face>,
    },
    /// A piece occurs twice, hence another is missing.
    #[error("piece doubled: {kind} {piece} is at both {} and {}", places[0], places[1])]
    Doubled {
        /// "corner" or "edge".
        kind: &'static str,
        /// The piece, by its home's reference facelet.
        piece: Facelet,
        /// The two places.
        places: [Facelet; 2],
    },
    /// The corner twists must add up to a multiple of three.
    #[error(
        "corner twist: the twists add up to {sum} thirds of a turn; they must add up to whole turns"
    )]
    CornerTwist {
        /// Sum modulo 3, 1 or 2.
        sum: u8,
    },
    /// An even number of edges must be flipped.
    #[error("edge flip: an odd number of edges is flipped; it must be even")]
    EdgeFlip,
    /// Corners and edges must be permuted alike.
    #[error("parity: corners are permuted {}, edges {}; both must be alike",
        if *corners_odd { "oddly" } else { "evenly" }, if *corners_odd { "evenly" } else { "oddly" })]
    Parity {
        /// Whether the corners' permutation is odd.
        corners_odd: bool,
    },
}

struct Counts<'a>(&'a [usize; 6]);

impl fmt::Display for Counts<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let wrong = Face::ALL.into_iter().filter(|face| self.0[face.index()] != 9);
        let parts: Vec<String> =
            wrong.map(|face| format!("{face} occurs {} times", self.0[face.index()])).collect();
        f.write_str(&parts.join(", "))
    }
}

struct Letters<'a>(&'a [Face]);

impl fmt::Display for Letters<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|face| write!(f, "{face}"))
    }
}

impl CubeState {
    /// The state that shows these colours.
    ///
    /// # Errors
    /// The first law broken, from the coarse to the fine: colour count, centre, piece,
    /// twist, flip, parity.
    pub fn from_colours(colours: &Colouring) -> Result<Self, StateError> {
        let counts = Face::ALL.map(|face| colours.iter().filter(|&&c| c == face).count());
        if counts != [9; 6] {
            return Err(StateError::ColourCount { counts });
        }
        for facelet in Facelet::all().filter(|f| f.kind() == FaceletKind::Centre) {
            let (face, found) = (facelet.face(), colours[facelet.index()]);
            if face != found {
                return Err(StateError::Centre { face, found });
            }
        }
        let mut state = CubeState::SOLVED;
        let mut corner_at = [None; CORNERS];
        for slot in 0..CORNERS {
            let places = corner_facelets(slot);
            let seen = places.map(|f| colours[f.index()]);
            let (piece, twist) = corner_index(seen).ok_or_else(|| StateError::NoSuchPiece {
                kind: "corner",
                place: places[0],
                colours: seen.to_vec(),
            })?;
            if let Some(first) = corner_at[piece].replace(places[0]) {
                let piece = corner_facelets(piece)[0];
                let places = [first, places[0]];
                return Err(StateError::Doubled { kind: "corner", piece, places });
            }
            (state.corner_piece[slot], state.corner_twist[slot]) = (piece as u8, twist as u8);
        }
        let mut edge_at = [None; EDGES];
        for slot in 0..EDGES {
            let places = edge_facelets(slot);
            let seen = places.map(|f| colours[f.index()]);
            let (piece, flip) = edge_index(seen).ok_or_else(|| StateError::NoSuchPiece {
                kind: "edge",
                place: places[0],
                colours: seen.to_vec(),
            })?;
            if let Some(first) = edge_at[piece].replace(places[0]) {
                let piece = edge_facelets(piece)[0];
                let places = [first, places[0]];
                return Err(StateError::Doubled { kind: "edge", piece, places });
            }
            (state.edge_piece[slot], state.edge_flip[slot]) = (piece as u8, flip as u8);
        }
        state.check_invariants()?;
        Ok(state)
    }

    /// The three laws that hold for any sequence of turns (from memory: the
    /// standard argument by generators of the cube group).
    fn check_invariants(&self) -> Result<(), StateError> {
        let sum = self.corner_twist.iter().sum::<u8>() % 3;
        if sum != 0 {
            return Err(StateError::CornerTwist { sum });
        }
        if self.edge_flip.iter().sum::<u8>() % 2 != 0 {
            return Err(StateError::EdgeFlip);
        }
        let corners_odd = is_odd(&self.corner_piece);
        if corners_odd != is_odd(&self.edge_piece) {
            return Err(StateError::Parity { corners_odd });
        }
        Ok(())
    }
}

/// Whether a permutation is odd: each cycle of even length changes the parity.
#[must_use]
pub fn is_odd(permutation: &[u8]) -> bool {
    let mut seen = vec![false; permutation.len()];
    let mut odd = false;
    for start in 0..permutation.len() {
        let mut length = 0;
        let mut at = start;
        while !seen[at] {
            seen[at] = true;
            at = usize::from(permutation[at]);
            length += 1;
        }
        odd ^= length > 0 && length % 2 == 0;
    }
    odd
}
