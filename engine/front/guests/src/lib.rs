//! Guests: a builder's own reader, planner, host and controller, as processes in the places of
//! Dryturn's parts.
//!
//! A guest speaks JSON-RPC 2.0 over its standard input and output, a message a line; a
//! controller's ticks are fixed little-endian records. [`Session`] starts it, asks it one question
//! at a time, each within a limit, and ends it with all that it started: a guest that hangs,
//! floods, lies or dies costs an answer and nothing else. [`GuestReader`], [`GuestPlanner`],
//! [`GuestHost`] and [`GuestController`] ask what their roles are asked, and check what is
//! answered. [`check`] asks a fixed series of questions before any rehearsal. [`Company`] is all
//! guests of a rehearsal in their seats, [`Invited`] who may be among them.
//!
//! ```
//! use dryturn_cube::CubeState;
//! use dryturn_guests::{GuestCommand, GuestPlanner, Limits, PlanCosts};
//!
//! // `false` ends at once, without a word.
//! let command = GuestCommand::parse("false").unwrap();
//! let fault = GuestPlanner::start(&command, Limits::default()).err().unwrap();
//! # #[cfg(unix)]
//! assert_eq!(fault.kind.name(), "exited");
//! ```

pub mod check;
mod command;
mod fault;
mod invited;
mod process;
mod protocol;
mod roles;
pub mod schema;
mod seats;
mod visible;

pub use command::{CommandError, GuestCommand, Limits};
pub use dryturn_handoff::GuestRole;
pub use fault::{FaultKind, ProcessFault, Question, never_answered};
pub use invited::{Invited, NotInvited, declared};
pub use process::end_all;
pub use protocol::{PROTOCOL, Session};
pub use roles::{
    AxisAnswer, AxisView, ControlAnswer, ControlBegin, ControlMode, ControlView, DeclaredMoves,
    GuestController, GuestHost, GuestPlanner, GuestReader, HostAnswer, HostBegin, HostView,
    PlanCosts, Planned, RowCosts, record,
};
pub use seats::{Company, SeatedController, SeatedHost, SeatedPlanner, SeatedReader};
