//! What each role is asked, and what it may answer.

mod controller;
mod host;
mod planner;
mod reader;

pub(crate) use controller::ControlBegun;
pub use controller::{
    AxisAnswer, AxisView, ControlAnswer, ControlBegin, ControlMode, ControlView, DeclaredMoves,
    GuestController, record,
};
pub(crate) use host::HostResult;
pub use host::{GuestHost, HostAnswer, HostBegin, HostView};
pub use planner::{GuestPlanner, PlanCosts, Planned, RowCosts};
pub(crate) use planner::{PlanQuestion, PlanResult};
pub use reader::GuestReader;
pub(crate) use reader::{Calibrate, ReadPictures, ReadResult};
