//! The 54 facelets: where they are and what they are called.

use core::fmt;
use std::sync::LazyLock;

use crate::{Face, pieces};

/// A place on the cube's surface: `9 · face + 3 · row + column`, with rows and
/// columns as in the unfolded net.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Facelet(u8);

/// What kind of piece carries a facelet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaceletKind {
    /// One facelet, fixed by the core.
    Centre,
    /// One of two facelets.
    Edge,
    /// One of three facelets.
    Corner,
}

impl Facelet {
    /// How many there are.
    pub const COUNT: usize = 54;

    /// The facelet at a row and column of a face.
    ///
    /// # Panics
    /// If `row` or `column` is not below 3.
    #[must_use]
    pub const fn new(face: Face, row: usize, column: usize) -> Self {
        assert!(row < 3 && column < 3);
        Self((9 * face.index() + 3 * row + column) as u8)
    }

    /// The facelet with index 0…53.
    #[must_use]
    pub const fn from_index(index: usize) -> Option<Self> {
        if index < Self::COUNT { Some(Self(index as u8)) } else { None }
    }

    /// All 54 in index order.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> + ExactSizeIterator + Clone {
        (0..Self::COUNT as u8).map(Self)
    }

    /// 0…53.
    #[must_use]
    pub const fn index(self) -> usize {
        self.0 as usize
    }

    /// The face it lies on.
    #[must_use]
    pub const fn face(self) -> Face {
        Face::from_index(self.index() / 9)
    }

    /// Row in the net, 0 at the top.
    #[must_use]
    pub const fn row(self) -> usize {
        self.index() % 9 / 3
    }

    /// Column in the net, 0 at the left.
    #[must_use]
    pub const fn column(self) -> usize {
        self.index() % 3
    }

    /// What kind of piece carries it.
    #[must_use]
    pub const fn kind(self) -> FaceletKind {
        match (self.row() == 1) as u8 + (self.column() == 1) as u8 {
            2 => FaceletKind::Centre,
            1 => FaceletKind::Edge,
            _ => FaceletKind::Corner,
        }
    }

    /// The place of its piece among the 27, each coordinate −1, 0 or 1.
    #[must_use]
    pub fn piece_position(self) -> [i32; 3] {
        let normal = self.face().normal();
        let (right, down) = self.face().net_directions();
        let (column, row) = (self.column() as i32 - 1, self.row() as i32 - 1);
        core::array::from_fn(|k| normal[k] + column * right[k] + row * down[k])
    }

    /// The facelet on the piece at `position` that looks towards `face`.
    #[must_use]
    pub fn at(position: [i32; 3], face: Face) -> Option<Self> {
        let dot = |a: [i32; 3], b: [i32; 3]| (0..3).map(|k| a[k] * b[k]).sum::<i32>();
        let (right, down) = face.net_directions();
        let inside = position.iter().all(|c| (-1..=1).contains(c));
        (inside && dot(position, face.normal()) == 1).then(|| {
            let (column, row) = (dot(position, right) + 1, dot(position, down) + 1);
            Self::new(face, row as usize, column as usize)
        })
    }

    /// Its name: the piece's letters, the facelet's own face first, the others
    /// clockwise (`URF`, `RFU`, `FUR`; `UF`, `FU`; `U`).
    #[must_use]
    pub fn name(self) -> &'static str {
        &NAMES[self.index()]
    }

    /// The facelet with the given name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::all().find(|facelet| facelet.name() == name)
    }
}

static NAMES: LazyLock<[String; Facelet::COUNT]> = LazyLock::new(|| {
    let mut names: [String; Facelet::COUNT] =
        core::array::from_fn(|i| Facelet(i as u8).face().to_string());
    let mut name_piece = |facelets: &[Facelet]| {
        for first in 0..facelets.len() {
            names[facelets[first].index()] = (0..facelets.len())
                .map(|k| facelets[(first + k) % facelets.len()].face().letter())
                .collect();
        }
    };
    (0..pieces::CORNERS).for_each(|slot| name_piece(&pieces::corner_facelets(slot)));
    (0..pieces::EDGES).for_each(|slot| name_piece(&pieces::edge_facelets(slot)));
    names
});

impl fmt::Display for Facelet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl fmt::Debug for Facelet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
