//! The seats of the drive: whoever takes the place of the built-in host or controller sits in
//! one, and sees what a real part in that place would see, nothing more.
//!
//! Simulated time stands still while a seat thinks. What its thinking costs on the rig is said in
//! [`Seats`]. A seat that fails ends the run as an emergency stop does, with
//! [`Cause::Guest`](dryturn_handoff::Cause::Guest).

mod brief;
mod controller;
mod host;

use dryturn_handoff::{GuestFault, Run};

pub use brief::{ControllerBrief, HostBrief, ProfilePoint};
pub(crate) use controller::{Ask, Asks, asks};
pub use controller::{AxisSeen, ControllerAnswer, ControllerSeat, ControllerSees, SetPoint};
pub use host::{HostAnswer, HostSeat, HostSees};

/// Who sits at the drive, and what that costs on the rig. By default nobody sits there: the
/// built-in host commands, the built-in controllers move the axes.
#[derive(Default)]
pub struct Seats<'a> {
    /// In the host's place.
    pub host: Option<&'a mut dyn HostSeat>,
    /// In the place of all six controllers.
    pub controller: Option<&'a mut dyn ControllerSeat>,
    /// How long the host's seat thinks on the rig before a command of its leaves, ms; 0 to 10000.
    pub host_latency_ms: f64,
    /// How often it is asked, ms: rounded up to whole ticks of the controllers, at least one.
    pub host_period_ms: f64,
    /// How long after the encoders were read what the controller's seat asks for takes effect,
    /// ms: rounded up to whole ticks; 0 to 10000. Until the first has come motors have no current.
    pub controller_latency_ms: f64,
}

/// A run with somebody in a seat.
#[derive(Clone, Debug, PartialEq)]
pub struct Seated {
    /// What the axes made of it.
    pub run: Run,
    /// Why a seat could not go on. It ended the run, unless something else was ending it by then.
    pub fault: Option<GuestFault>,
    /// Why the host's seat stopped everything, in its words.
    pub stopped_because: Option<String>,
}

/// A time in whole ticks, rounded up; at most [`LONGEST_MS`] count.
pub(crate) fn whole_ticks(ms: f64, tick_s: f64) -> usize {
    const HAIR: f64 = 1e-9;
    (ms.clamp(0.0, LONGEST_MS) * 1e-3 / tick_s - HAIR).ceil().max(0.0) as usize
}

/// Longest that a seat may think, and seldomest that it may be asked, ms.
pub(crate) const LONGEST_MS: f64 = 10_000.0;
