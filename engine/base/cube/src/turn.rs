//! The 18 face turns and what they do to facelets.

use core::fmt;
use std::sync::LazyLock;

use crate::{CORNERS, CubeState, EDGES, Face, Facelet, pieces};

/// How far a face turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Amount {
    /// A quarter turn clockwise, seen from outside.
    Clockwise,
    /// A half turn.
    Half,
    /// A quarter turn anticlockwise.
    Counter,
}

impl Amount {
    /// All three, by number of clockwise quarter turns.
    pub const ALL: [Amount; 3] = [Amount::Clockwise, Amount::Half, Amount::Counter];

    /// Clockwise quarter turns, 1…3.
    #[must_use]
    pub const fn quarters(self) -> u8 {
        self as u8 + 1
    }

    /// The amount of `quarters` clockwise quarter turns; `None` if they cancel.
    #[must_use]
    pub const fn from_quarters(quarters: u8) -> Option<Self> {
        match quarters % 4 {
            1 => Some(Self::Clockwise),
            2 => Some(Self::Half),
            3 => Some(Self::Counter),
            _ => None,
        }
    }

    /// Signed angle of the shaft in degrees, clockwise positive: 90, 180, −90.
    #[must_use]
    pub const fn angle_deg(self) -> f64 {
        match self {
            Self::Clockwise => 90.0,
            Self::Half => 180.0,
            Self::Counter => -90.0,
        }
    }
}

/// One turn of one face.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Turn {
    /// Which face.
    pub face: Face,
    /// How far.
    pub amount: Amount,
}

/// Every turn, index `3 · face + amount`.
pub const ALL_TURNS: [Turn; 18] = {
    let mut all = [Turn { face: Face::U, amount: Amount::Clockwise }; 18];
    let mut i = 0;
    while i < 18 {
        all[i] = Turn { face: Face::from_index(i / 3), amount: Amount::ALL[i % 3] };
        i += 1;
    }
    all
};

impl Turn {
    /// 0…17.
    #[must_use]
    pub const fn index(self) -> usize {
        3 * self.face.index() + self.amount as usize
    }

    /// The turn that undoes this one.
    #[must_use]
    pub const fn inverse(self) -> Self {
        let amount = match self.amount {
            Amount::Clockwise => Amount::Counter,
            Amount::Half => Amount::Half,
            Amount::Counter => Amount::Clockwise,
        };
        Self { face: self.face, amount }
    }

    /// Where each facelet comes from: after the turn, place `f` shows what
    /// place `sources()[f]` showed before.
    #[must_use]
    pub fn sources(self) -> &'static [Facelet; Facelet::COUNT] {
        &MOTIONS[self.index()].sources
    }

    /// The turn as a state: what it makes of the solved cube.
    #[must_use]
    pub fn as_state(self) -> &'static CubeState {
        &MOTIONS[self.index()].state
    }
}

impl fmt::Display for Turn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let suffix = match self.amount {
            Amount::Clockwise => "",
            Amount::Half => "2",
            Amount::Counter => "'",
        };
        write!(f, "{}{suffix}", self.face)
    }
}

struct Motion {
    sources: [Facelet; Facelet::COUNT],
    state: CubeState,
}

static MOTIONS: LazyLock<[Motion; 18]> = LazyLock::new(|| {
    ALL_TURNS.map(|turn| {
        let sources = sources_of(turn);
        Motion { state: state_of(&sources), sources }
    })
});

/// Rotates a vector by a quarter turn clockwise as seen from outside `face`:
/// −90° about its outward normal.
pub(crate) fn rotate_clockwise(v: [i32; 3], face: Face) -> [i32; 3] {
    let n = face.normal();
    let along: i32 = (0..3).map(|k| v[k] * n[k]).sum();
    // v × n is v's part across the axis, turned by −90°.
    core::array::from_fn(|k| {
        let (i, j) = ((k + 1) % 3, (k + 2) % 3);
        along * n[k] + v[i] * n[j] - v[j] * n[i]
    })
}

/// Where the facelet goes when the whole cube turns once clockwise about `face`.
pub(crate) fn rotate_facelet(facelet: Facelet, face: Face) -> Facelet {
    let position = rotate_clockwise(facelet.piece_position(), face);
    let normal = rotate_clockwise(facelet.face().normal(), face);
    let on = Face::from_normal(normal).expect("a rotation takes faces to faces");
    Facelet::at(position, on).expect("a rotation takes facelets to facelets")
}

fn sources_of(turn: Turn) -> [Facelet; Facelet::COUNT] {
    let in_layer = |f: Facelet| {
        let (p, n) = (f.piece_position(), turn.face.normal());
        (0..3).map(|k| p[k] * n[k]).sum::<i32>() == 1
    };
    let mut sources: [Facelet; Facelet::COUNT] =
        core::array::from_fn(|i| Facelet::from_index(i).expect("index is below 54"));
    for start in Facelet::all().filter(|&f| in_layer(f)) {
        let mut end = start;
        for _ in 0..turn.amount.quarters() {
            end = rotate_facelet(end, turn.face);
        }
        sources[end.index()] = start;
    }
    sources
}

/// Reads pieces off a facelet permutation.
fn state_of(sources: &[Facelet; Facelet::COUNT]) -> CubeState {
    let mut state = CubeState::SOLVED;
    for slot in 0..CORNERS {
        let from = pieces::corner_facelets(slot).map(|f| sources[f.index()]);
        for piece in 0..CORNERS {
            let own = pieces::corner_facelets(piece);
            if let Some(twist) = from.iter().position(|&f| f == own[0]) {
                (state.corner_piece[slot], state.corner_twist[slot]) = (piece as u8, twist as u8);
            }
        }
    }
    for slot in 0..EDGES {
        let from = pieces::edge_facelets(slot).map(|f| sources[f.index()]);
        for piece in 0..EDGES {
            let own = pieces::edge_facelets(piece);
            if let Some(flip) = from.iter().position(|&f| f == own[0]) {
                (state.edge_piece[slot], state.edge_flip[slot]) = (piece as u8, flip as u8);
            }
        }
    }
    state
}
