//! From a state to the beats that solve it.
//!
//! The search has two legs. *Orienting* brings the cube into the subgroup that quarter
//! turns of U and D and half turns of the four side faces generate: every corner and
//! edge then has its right sense, and the four edges between U and D are in their belt.
//! *Arranging* sorts corners and edges inside that subgroup with its own turns. To go by
//! way of a subgroup is common practice, no source. The search looks at the state along
//! three axes and at its inverse, and goes on to cheaper plans while the budget lasts. The
//! objective is the fewest turns, or the least machine time over *beats*: one turn, or two
//! of opposite faces that run together.
//! Lower bounds come from tables: compact ones that are built at once, or large ones
//! with the exact distance of orienting, which a caller builds and keeps
//! ([`TableKind::build`]). With a budget in nodes the same state, objective and
//! tables give the same plan, whatever the number of threads.
//!
//! What is left out: a beat costs the same wherever it stands in the plan; how beats
//! overlap in truth only the drive's simulation knows.
//!
//! ```
//! use dryturn_cube::{CubeState, notation};
//! use dryturn_planning::{Objective, Planner, Weights};
//!
//! let state = CubeState::SOLVED.turned_by(&notation::parse("R U F2 B").unwrap());
//! let planner = Planner::new();
//! let shortest = planner.plan(&state, Objective::FewestTurns, 10_000);
//! assert_eq!(state.turned_by(&shortest.plan.turns()), CubeState::SOLVED);
//! assert_eq!(shortest.cost, 4);
//! // F2 and B run together: two quarter turns and a half turn, 2 + 2 + 3.
//! let weights = Weights { quarter: 2, half: 3 };
//! let quickest = planner.plan(&state, Objective::LeastTime(weights), 10_000);
//! assert_eq!((quickest.cost, quickest.plan.beats.len()), (7, 3));
//! ```

mod bounds;
mod planner;
mod search;
mod state;

pub use bounds::{Leg, Metric, TableKind};
pub use planner::{Budget, DEFAULT_NODE_BUDGET, Planned, Planner, Served, TableBytes};
pub use search::{Improvement, Objective, Proof};
pub use state::Weights;
