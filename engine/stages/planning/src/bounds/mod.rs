//! What a state needs at least.

mod compact;
mod fill;
mod large;

use crate::state::{Arrangement, Coordinates};

pub(crate) use compact::Compact;
pub(crate) use large::{LargeBeats, LargeTurns, all_corner_sense_images};
pub use large::{Leg, Metric, TableKind};

/// Most steps from one state.
pub(crate) const MOST_STEPS: usize = 48;

/// A state one step on, to be bounded together with its siblings.
#[derive(Clone, Copy, Default)]
pub(crate) struct Candidate {
    pub(crate) at: Coordinates,
    pub(crate) step: u8,
    /// Once the bound is above this, it need not be the best one.
    pub(crate) give_up: u8,
    pub(crate) least: u8,
}

/// Lower bounds of both legs, in the cost of the tables behind them.
pub(crate) trait Bounds: Sync {
    /// Least cost that orients a state: reaches the subgroup that is then arranged.
    fn orient(&self, at: Coordinates) -> u8;
    /// The same for several states at once: reads from memory then overlap.
    fn orient_all(&self, candidates: &mut [Candidate]) {
        candidates.iter_mut().for_each(|c| c.least = self.orient(c.at));
    }
    /// Least cost that solves an arrangement within it. Once it is above
    /// `give_up`, it need not be the best bound.
    fn arrange(&self, at: &Arrangement, give_up: u8) -> u8;
}
