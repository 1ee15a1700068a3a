//! The six faces and their directions.

use core::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A face by its letter in WCA notation. The order U R F D L B is used for
/// every array indexed by face.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
pub enum Face {
    /// Up, +y.
    U,
    /// Right, +x.
    R,
    /// Front, +z.
    F,
    /// Down, −y.
    D,
    /// Left, −x.
    L,
    /// Back, −z.
    B,
}

impl Face {
    /// All six, in index order.
    pub const ALL: [Face; 6] = [Face::U, Face::R, Face::F, Face::D, Face::L, Face::B];

    /// 0…5 in the order U R F D L B.
    #[must_use]
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The face with the given index.
    ///
    /// # Panics
    /// If `index` is not below 6.
    #[must_use]
    pub const fn from_index(index: usize) -> Self {
        Self::ALL[index]
    }

    /// The face across the cube.
    #[must_use]
    pub const fn opposite(self) -> Self {
        Self::ALL[(self as usize + 3) % 6]
    }

    /// Whether the two faces turn about the same axis.
    #[must_use]
    pub const fn same_axis(self, other: Self) -> bool {
        self as usize % 3 == other as usize % 3
    }

    /// The face's letter.
    #[must_use]
    pub const fn letter(self) -> char {
        ['U', 'R', 'F', 'D', 'L', 'B'][self as usize]
    }

    /// The face with the given letter (capital).
    #[must_use]
    pub fn from_letter(letter: char) -> Option<Self> {
        Self::ALL.into_iter().find(|face| face.letter() == letter)
    }

    /// Outward direction: x right, y up, z front.
    #[must_use]
    pub const fn normal(self) -> [i32; 3] {
        match self {
            Face::U => [0, 1, 0],
            Face::R => [1, 0, 0],
            Face::F => [0, 0, 1],
            Face::D => [0, -1, 0],
            Face::L => [-1, 0, 0],
            Face::B => [0, 0, -1],
        }
    }

    /// The face whose normal is `direction`.
    #[must_use]
    pub fn from_normal(direction: [i32; 3]) -> Option<Self> {
        Self::ALL.into_iter().find(|face| face.normal() == direction)
    }

    /// Column and row of the face in the unfolded net, four faces wide and three
    /// high: U above F; L F R B in a row; D below F.
    #[must_use]
    pub const fn net_place(self) -> (usize, usize) {
        match self {
            Face::U => (1, 0),
            Face::L => (0, 1),
            Face::F => (1, 1),
            Face::R => (2, 1),
            Face::B => (3, 1),
            Face::D => (1, 2),
        }
    }

    /// Directions of increasing column and of increasing row, as a person sees
    /// the face in the unfolded net (U above F; L F R B in a row; D below F).
    #[must_use]
    pub const fn net_directions(self) -> ([i32; 3], [i32; 3]) {
        match self {
            Face::U => ([1, 0, 0], [0, 0, 1]),
            Face::R => ([0, 0, -1], [0, -1, 0]),
            Face::F => ([1, 0, 0], [0, -1, 0]),
            Face::D => ([1, 0, 0], [0, 0, -1]),
            Face::L => ([0, 0, 1], [0, -1, 0]),
            Face::B => ([-1, 0, 0], [0, -1, 0]),
        }
    }
}

impl fmt::Display for Face {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.letter())
    }
}
