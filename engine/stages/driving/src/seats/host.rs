//! The host's seat: it commands one turn after another, and sees what comes back over the link.

use dryturn_cube::Turn;
use dryturn_handoff::SeatFault;

use super::HostBrief;

/// What a host sees at a tick. What axes report comes back without delay, as the scene's link has
/// it; faces in the order U R F D L B.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HostSees {
    /// Since the run began, s.
    pub time_s: f64,
    /// What each encoder reads, degrees since homing, clockwise positive.
    pub encoder_deg: [f64; 6],
    /// Where each axis shall be now, likewise.
    pub setpoint_deg: [f64; 6],
    /// Which axes' set-points still move. Such an axis refuses a command.
    pub moving: [bool; 6],
}

/// What a host does at a tick.
#[derive(Clone, Debug, PartialEq)]
pub enum HostAnswer {
    /// It commands these turns, none to wait. All of one answer are one beat.
    Turn(Vec<Turn>),
    /// It has nothing more to command. The run ends now, and the cube counts as it is.
    Done,
    /// It stops everything, for a reason of its own.
    Stop(String),
}

impl HostAnswer {
    /// Nothing to do yet.
    pub const WAIT: Self = Self::Turn(Vec::new());
}

/// Whoever sits in the host's place.
///
/// A command takes as long to its axis as the built-in host's do: the bookkeeping of
/// `drive.overhead_ms` (but for the first), the link with latency, jitter and frames that are sent
/// again. Commands to a face without a shaft, over a cut link, or lost too often end the run as
/// they do there. An axis whose set-point still moves when a command arrives refuses it, and the
/// run stops with [`Cause::Refused`](dryturn_handoff::Cause::Refused). One that stands but has not
/// settled turns on. Nobody looks whether a neighbour is in the way: that is the host's part.
///
/// A run ends by its own limits of time, steps and commands, whatever a host does.
pub trait HostSeat {
    /// What it calls itself.
    fn name(&self) -> &str;

    /// A run begins.
    ///
    /// # Errors
    /// It cannot go on.
    fn begin(&mut self, brief: &HostBrief<'_>) -> Result<(), SeatFault>;

    /// What it does now.
    ///
    /// # Errors
    /// It cannot go on.
    fn tick(&mut self, sees: &HostSees) -> Result<HostAnswer, SeatFault>;

    /// The run has ended, however it did; even where `begin` failed.
    fn end(&mut self) {}
}
