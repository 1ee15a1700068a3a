//! The seats of a rehearsal: who reads, plans, commands and moves.
//!
//! A seat sees what a real part in its place would see, and no truth: no seed, no number of a
//! trial, no cube but the one that was read.

pub(crate) mod planner;
pub(crate) mod reader;
mod stages;

pub use planner::{MOST_TURNS, PlanCosts, PlannerSeat, SeatPlan};
pub use reader::{ReaderSeat, read_by};
pub use stages::{Guests, LatencyMs, Reader, Stages};
