//! The values that pass between the stages. A stage knows no other stage, only
//! these, so each runs alone from a stored hand-off.
//!
//! All but files have a form as JSON and a JSON Schema. A number that JSON cannot hold is null
//! there. What is read back has the right types; that lists are as long as is said is not checked.
//!
//! ```
//! use dryturn_handoff::Plan;
//! let plan = Plan::of_turns(&dryturn_cube::notation::parse("U D R2").unwrap());
//! assert_eq!(plan.beats.len(), 2); // U and D turn together
//! let stored = serde_json::to_string(&plan).unwrap();
//! assert_eq!(stored, r#"{"beats":[{"turns":["U","D"]},{"turns":["R2"]}]}"#);
//! assert_eq!(serde_json::from_str::<Plan>(&stored).unwrap(), plan);
//! ```

mod cues;
mod finite;
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
