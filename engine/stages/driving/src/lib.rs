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

mod bench;
mod contact;
mod control;
mod execution;
mod host;
mod plant;
mod rig;
mod run;
mod seats;
#[cfg(test)]
mod support;
mod timing;
mod watch;

pub use bench::{Bench, BenchError, BenchLog, BenchMove, LogNoise, run_log};
pub use contact::{Interlock, Lead, Torques, separation};
pub use control::profile;
pub use plant::{Axis, Motion, Motor, Piece, braking, linear, rest_to_rest, shaft, spin_up};
pub use rig::{Ceiling, Drawn, DriveSettings, Machine};
pub use run::{Detail, Squared, simulate};
pub use seats::{
    AxisSeen, ControllerAnswer, ControllerBrief, ControllerSeat, ControllerSees, HostAnswer,
    HostBrief, HostSeat, HostSees, ProfilePoint, Seated, Seats, SetPoint,
};
pub use timing::{BeatCosts, STUCK_US, Timing, Transitions};
