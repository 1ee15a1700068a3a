//! Guests in the seats of a rehearsal: what a seat is told becomes the question of its role, what
//! a guest answers the seat's answer.

mod company;
mod controller;
mod host;
mod planner;
mod reader;
mod sitting;

pub use company::Company;
pub use controller::SeatedController;
pub use host::SeatedHost;
pub use planner::SeatedPlanner;
pub use reader::SeatedReader;
