//! An explanation of what is seen: a light, the cube in it, and how probable both are.

use dryturn_cube::{Colouring, CubeState};

use super::hypothesis::Light;
use crate::decoder::{Evidence, Mounted};

/// A cube is beyond doubt when all others together are less probable than this.
pub(super) const NO_DOUBT: f64 = 1e-6;

/// A change of the light that explains the samples, and what they then say.
pub(super) struct Explained {
    pub(super) light: Light,
    pub(super) mounted: Mounted,
    /// What the samples say of the colours under this change.
    pub(super) evidence: Evidence,
    /// Logarithm of how probable samples and change are together, up to a constant that
    /// all explanations share.
    pub(super) weight: f64,
}

/// Whether two explanations come to the same cube in the same mounting.
pub(super) fn same_cube(one: &Explained, other: &Explained) -> bool {
    let state = |explained: &Explained| explained.mounted.decoded.best.state;
    one.mounted.centres == other.mounted.centres && state(one) == state(other)
}

/// Logarithm of how probable an explanation's own cube is in it.
pub(super) fn value(explained: &Explained) -> f64 {
    explained.weight + explained.mounted.decoded.log_probability()
}

/// The most probable explanation.
pub(super) fn most_probable(found: &[Explained]) -> &Explained {
    found.iter().fold(&found[0], more_probable)
}

/// The more probable of two, the first of equals.
pub(super) fn more_probable<'e>(one: &'e Explained, other: &'e Explained) -> &'e Explained {
    if value(other) > value(one) { other } else { one }
}

/// The drawn colours of a cube that is mounted as an explanation has it.
pub(super) fn colours_of(explained: &Explained, state: &CubeState) -> Colouring {
    state.colours().map(|face| explained.mounted.centres[face.index()])
}
