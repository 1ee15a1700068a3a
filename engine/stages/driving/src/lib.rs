//! What the axes make of a plan: when each face moves, how far it is off when
//! its neighbour starts, and whether that jams.
//!
//! Host, drives and plant run on one clock with a fixed step: the plant at 40 kHz (two
//! masses and a shaft an axis, winding, friction, cogging, the supply that all share), the
//! controllers at 8 kHz, commands over a link with latency and jitter. Where neighbouring
//! faces are off their stops their pieces meet; a face that is brought to a stand is a
//! jam, with its torque and the strength of the shaft.
//!
//! What is left out: the twist of motor and mount, the wear of what rubs, stick-slip (the
//! friction does not depend on speed), iron losses and the windings' growing resistance,
//! and neighbours of neighbours.

mod axis;
mod axis_now;
mod bench;
mod bench_error;
mod bound;
pub mod braking;
mod ceiling;
mod contact;
mod cues;
mod drawn;
mod draws;
mod execution;
mod following;
mod host;
mod interlock;
mod leads;
mod limits;
pub mod linear;
mod machine;
mod motion;
mod plant;
mod predict;
pub mod profile;
mod rod;
mod section;
pub mod separation;
mod servo;
mod setpoints;
mod settings;
pub mod shaft;
mod simulate;
mod spin_up;
mod square;
mod supply;
mod transitions;
mod watch;

pub use axis::{Axis, Motor};
pub use bench::{Bench, BenchLog, BenchMove, LogNoise, run_log};
pub use bench_error::BenchError;
pub use ceiling::Ceiling;
pub use drawn::Drawn;
pub use interlock::{Interlock, Torques};
pub use leads::Lead;
pub use machine::Machine;
pub use motion::{Motion, Piece, rest_to_rest};
pub use predict::{BeatCosts, BeatTime, Timing};
pub use setpoints::{Setpoint, Setpoints};
pub use settings::DriveSettings;
pub use simulate::{Detail, simulate};
pub use spin_up::spin_up;
pub use square::Squared;
pub use transitions::{STUCK_US, Transitions};
