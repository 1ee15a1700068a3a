//! Where each piece goes.

use dryturn_cube::{CORNERS, CubeState, EDGES};

/// Where each piece goes, without how it is twisted or flipped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Pieces {
    pub(crate) corners: [u8; CORNERS],
    pub(crate) edges: [u8; EDGES],
}

impl Pieces {
    pub(crate) fn of(state: &CubeState) -> Self {
        Self { corners: *state.corner_piece(), edges: *state.edge_piece() }
    }

    /// These pieces, then a motion.
    pub(crate) fn then(&self, motion: &Self) -> Self {
        Self {
            corners: motion.corners.map(|from| self.corners[usize::from(from) % CORNERS]),
            edges: motion.edges.map(|from| self.edges[usize::from(from) % EDGES]),
        }
    }
}
