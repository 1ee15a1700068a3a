//! A state of the cube: which piece sits where, and how.

use crate::{CORNERS, EDGES, Face, Facelet, Turn, corner_facelets, edge_facelets};

/// Which piece is in each slot and how it is turned. `corner_twist[s]` counts
/// how far clockwise the reference facelet of the piece in slot `s` stands from
/// the slot's reference facelet (0…2); `edge_flip[s]` is 0 or 1. Any value of
/// this type that the crate hands out is legal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CubeState {
    pub(crate) corner_piece: [u8; CORNERS],
    pub(crate) corner_twist: [u8; CORNERS],
    pub(crate) edge_piece: [u8; EDGES],
    pub(crate) edge_flip: [u8; EDGES],
}

impl CubeState {
    /// Every piece at home.
    pub const SOLVED: Self = Self {
        corner_piece: [0, 1, 2, 3, 4, 5, 6, 7],
        corner_twist: [0; CORNERS],
        edge_piece: [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11],
        edge_flip: [0; EDGES],
    };

    /// The piece in each corner slot.
    #[must_use]
    pub const fn corner_piece(&self) -> &[u8; CORNERS] {
        &self.corner_piece
    }

    /// The twist in each corner slot, 0…2.
    #[must_use]
    pub const fn corner_twist(&self) -> &[u8; CORNERS] {
        &self.corner_twist
    }

    /// The piece in each edge slot.
    #[must_use]
    pub const fn edge_piece(&self) -> &[u8; EDGES] {
        &self.edge_piece
    }

    /// The flip in each edge slot, 0 or 1.
    #[must_use]
    pub const fn edge_flip(&self) -> &[u8; EDGES] {
        &self.edge_flip
    }

    /// This state, then `motion` applied to it (`motion` as what it makes of
    /// the solved cube).
    #[must_use]
    pub fn then(&self, motion: &Self) -> Self {
        let mut after = Self::SOLVED;
        for slot in 0..CORNERS {
            let from = usize::from(motion.corner_piece[slot]);
            after.corner_piece[slot] = self.corner_piece[from];
            after.corner_twist[slot] = (self.corner_twist[from] + motion.corner_twist[slot]) % 3;
        }
        for slot in 0..EDGES {
            let from = usize::from(motion.edge_piece[slot]);
            after.edge_piece[slot] = self.edge_piece[from];
            after.edge_flip[slot] = self.edge_flip[from] ^ motion.edge_flip[slot];
        }
        after
    }

    /// The motion that undoes this state's.
    #[must_use]
    pub fn inverse(&self) -> Self {
        let mut back = Self::SOLVED;
        for slot in 0..CORNERS {
            let piece = usize::from(self.corner_piece[slot]);
            back.corner_piece[piece] = slot as u8;
            back.corner_twist[piece] = (3 - self.corner_twist[slot]) % 3;
        }
        for slot in 0..EDGES {
            let piece = usize::from(self.edge_piece[slot]);
            back.edge_piece[piece] = slot as u8;
            back.edge_flip[piece] = self.edge_flip[slot];
        }
        back
    }

    /// After one turn.
    #[must_use]
    pub fn turned(&self, turn: Turn) -> Self {
        self.then(turn.as_state())
    }

    /// After all turns, first to last.
    #[must_use]
    pub fn turned_by(&self, turns: &[Turn]) -> Self {
        turns.iter().fold(*self, |state, &turn| state.turned(turn))
    }

    /// Which facelet of the solved cube is now at each place, index order of
    /// [`Facelet`]: the sticker that was there when the cube was solved.
    #[must_use]
    pub fn stickers(&self) -> [Facelet; Facelet::COUNT] {
        let mut stickers: [Facelet; Facelet::COUNT] =
            core::array::from_fn(|i| Facelet::from_index(i).expect("index is below 54"));
        for slot in 0..CORNERS {
            let own = corner_facelets(usize::from(self.corner_piece[slot]));
            let places = corner_facelets(slot);
            for k in 0..3 {
                stickers[places[(k + usize::from(self.corner_twist[slot])) % 3].index()] = own[k];
            }
        }
        for slot in 0..EDGES {
            let own = edge_facelets(usize::from(self.edge_piece[slot]));
            let places = edge_facelets(slot);
            for k in 0..2 {
                stickers[places[(k + usize::from(self.edge_flip[slot])) % 2].index()] = own[k];
            }
        }
        stickers
    }

    /// The colour at each place, as the face whose centre has that colour.
    #[must_use]
    pub fn colours(&self) -> [Face; Facelet::COUNT] {
        self.stickers().map(Facelet::face)
    }
}
