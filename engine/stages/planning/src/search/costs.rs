//! Costs of an objective beside the bounds of tables that were built for others.

use crate::bounds::Metric;
use crate::state::{Step, Weights};

/// Steps of arranging that are tried at first: deeper tries cost more than going on
/// with orienting.
const ARRANGE_STEPS: u32 = 10;

/// What a plan shall have least of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Objective {
    /// Turns, half turns as one (half-turn metric).
    FewestTurns,
    /// Machine time: the sum of its beats' weights.
    LeastTime(Weights),
}

impl Objective {
    /// The tables that bound it.
    #[must_use]
    pub fn metric(self) -> Metric {
        match self {
            Self::FewestTurns => Metric::Turns,
            Self::LeastTime(_) => Metric::Beats,
        }
    }

    /// What arranging may cost as long as there is no plan. A longer one is found sooner, but
    /// the plan is so much worse that no usual budget makes up for it: in beats, as much as
    /// five quarter and five half turns is about the best (measured).
    pub(crate) fn first_arranging(self) -> u32 {
        match self {
            Self::FewestTurns => ARRANGE_STEPS,
            Self::LeastTime(Weights { quarter, half }) => {
                quarter.saturating_add(half).saturating_mul(5)
            }
        }
    }

    /// Cost of a step of its tables.
    pub(crate) fn cost(self, step: &Step) -> u32 {
        match self {
            Self::FewestTurns => step.cost,
            Self::LeastTime(weights) => weights.of_beat(step.turns()),
        }
    }
}

/// Turns a table's distances into bounds on an objective's cost.
pub(crate) struct Scale {
    /// By distance.
    at_least: [u32; 256],
    /// Greatest distance that can be covered, by cost.
    reach: [u8; 256],
}

impl Scale {
    pub(crate) fn of(objective: Objective) -> Self {
        // A path of table cost 2 q + 3 h costs at least so many sixths of each unit.
        let sixths = match objective {
            Objective::FewestTurns => 6,
            Objective::LeastTime(w) => u64::from(3 * w.quarter).min(u64::from(2 * w.half)).max(1),
        };
        let at_least = |distance: usize| (distance as u64 * sixths).div_ceil(6) as u32;
        let reach = |cost: usize| (cost as u64 * 6 / sixths).min(255) as u8;
        Self { at_least: core::array::from_fn(at_least), reach: core::array::from_fn(reach) }
    }

    pub(crate) fn at_least(&self, distance: u8) -> u32 {
        self.at_least[usize::from(distance)]
    }

    pub(crate) fn reach(&self, cost: u32) -> u8 {
        self.reach.get(cost as usize).copied().unwrap_or(u8::MAX)
    }
}
