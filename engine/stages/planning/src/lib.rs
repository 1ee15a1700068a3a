//! From a state to the beats that solve it.
//!
//! A textbook search in two phases: first bring the cube into the subgroup
//! where only half turns of the four side faces are needed, then finish inside
//! it, each phase by iterative deepening with lower bounds from tables. The
//! first plan found is then shortened while the node budget lasts.
//!
//! What is left out: the plan is short in turns, not in machine time; half turns
//! count as one, and only neighbouring opposite turns share a beat.
//!
//! ```
//! use dryturn_cube::{CubeState, notation};
//! use dryturn_planning::{Planner, DEFAULT_NODE_BUDGET};
//!
//! let state = CubeState::SOLVED.turned_by(&notation::parse("R U F2").unwrap());
//! let plan = Planner::new().plan(&state, DEFAULT_NODE_BUDGET);
//! assert_eq!(state.turned_by(&plan.turns()), CubeState::SOLVED);
//! assert_eq!(plan.turns().len(), 3);
//! ```

mod coordinates;
mod search;
mod tables;

pub use search::{DEFAULT_NODE_BUDGET, Planner};
