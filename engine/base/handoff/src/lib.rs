//! The values that pass between the stages. A stage knows no other stage, only
//! these, so each runs alone from a stored hand-off.
//!
//! ```
//! use dryturn_handoff::Plan;
//! let plan = Plan::of_turns(&dryturn_cube::notation::parse("U D R2").unwrap());
//! assert_eq!(plan.beats.len(), 2); // U and D turn together
//! ```

mod cues;
mod frame;
mod guest;
mod log;
mod output;
mod plan;
mod reading;
mod run;

pub use cues::{Cue, CueSheet, CuedBeat, CuedTurn};
pub use frame::{FaceletLabel, Frame, Labels, Scan};
pub use guest::{GuestFault, GuestRole, SeatFault};
pub use log::{AxisLog, RunLog};
pub use output::{Content, MapValues, OutputFile, PixelMap};
pub use plan::{Beat, Plan};
pub use reading::{
    CameraFound, ColourPlane, FaceletReading, Outcome, Reading, RefusalKind, RunnerUp, Source,
};
pub use run::{
    AngleBudget, AxisLoad, BeatRun, Blame, Cause, End, Energy, Jam, JamVerdict, LateReason,
    Meeting, NEIGHBOURS, Power, Run, RunLimits, SimulationLimit, Stop, Trace, TurnRun, neighbours,
};
