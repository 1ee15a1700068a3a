//! Why a run was broken off, other than by a jam.

use core::fmt;

use dryturn_cube::Face;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::GuestRole;

/// Why a run was broken off, other than by a jam.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Somebody hit the emergency stop.
    EmergencyStop,
    /// The axes heard nothing from the host.
    Watchdog,
    /// There is no shaft on the face.
    NoShaft(Face),
    /// A command was sent again too often.
    LinkLost(Face),
    /// An axis was too far from its set-point.
    FollowingError(Face),
    /// An axis stood still at its current limit.
    Stalled(Face),
    /// An axis did not settle in the time that a beat may take.
    NotSettled(Face),
    /// An axis had settled, but left its window again whenever the dwell had begun, for longer
    /// than a beat may take.
    NotSteady(Face),
    /// A shaft broke though nothing was in its way.
    ShaftBroken(Face),
    /// The bus voltage rose too far.
    OverVoltage,
    /// The bus voltage fell too far.
    UnderVoltage,
    /// The brake resistor's thermal cut-out opened.
    ResistorHot,
    /// The simulation ended it, at a limit of its own.
    Simulation(SimulationLimit),
    /// An axis refused a command, for its set-point still moved.
    Refused(Face),
    /// The host stopped everything.
    HostStopped,
    /// Whoever sat in the place of a built-in stage could not go on.
    Guest(GuestRole),
}

impl Cause {
    /// The face that it is about, where it is about one.
    #[must_use]
    pub fn face(self) -> Option<Face> {
        match self {
            Self::NoShaft(face)
            | Self::LinkLost(face)
            | Self::FollowingError(face)
            | Self::Stalled(face)
            | Self::NotSettled(face)
            | Self::NotSteady(face)
            | Self::ShaftBroken(face)
            | Self::Refused(face) => Some(face),
            Self::EmergencyStop
            | Self::Watchdog
            | Self::OverVoltage
            | Self::UnderVoltage
            | Self::ResistorHot
            | Self::Simulation(_)
            | Self::HostStopped
            | Self::Guest(_) => None,
        }
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::EmergencyStop => f.write_str("emergency stop"),
            Self::Watchdog => f.write_str("the link went dead and the watchdogs let go"),
            Self::NoShaft(face) => write!(f, "there is no shaft on {face}"),
            Self::LinkLost(face) => write!(f, "commands to {face} were lost too often"),
            Self::FollowingError(face) => write!(f, "{face} was too far from its set-point"),
            Self::Stalled(face) => write!(f, "{face} stood still at its current limit"),
            Self::NotSettled(face) => write!(f, "{face} did not settle"),
            Self::NotSteady(face) => write!(f, "{face} did not stay within its settle window"),
            Self::ShaftBroken(face) => write!(f, "the shaft of {face} broke"),
            Self::OverVoltage => f.write_str("the bus voltage rose too far"),
            Self::UnderVoltage => f.write_str("the bus voltage fell too far"),
            Self::ResistorHot => f.write_str("the brake resistor's thermal cut-out opened"),
            Self::Simulation(limit) => write!(f, "{limit}"),
            Self::Refused(face) => {
                write!(f, "{face} was commanded to turn while its set-point still moved")
            }
            Self::HostStopped => f.write_str("the host stopped everything"),
            Self::Guest(role) => write!(f, "the {role} could not go on"),
        }
    }
}

/// A limit at which a simulated run ends whatever its host, its controllers and its axes do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SimulationLimit {
    /// The time that one beat may take ([`RunLimits::beat_s`]).
    BeatTime,
    /// The time of the whole run ([`RunLimits::run_s`]).
    RunTime,
    /// The steps of the whole run ([`RunLimits::axis_steps`]).
    Steps,
    /// Angles, speeds or voltages that are no numbers any more: the motion grew without end.
    Numbers,
    /// The turns that a host from outside may command in a run.
    Commands,
}

impl fmt::Display for SimulationLimit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::BeatTime => "the beat took longer than the simulation gives one",
            Self::RunTime => "the run took longer than the simulation gives a plan of this length",
            Self::Steps => {
                "the run took more steps than the simulation gives a plan of this length"
            }
            Self::Numbers => "the simulated motion grew beyond all numbers",
            Self::Commands => {
                "the host commanded more turns than the simulation gives a plan of this length"
            }
        })
    }
}

/// What a simulated run may take at the most. Both times follow from the scene and the
/// plan, the steps from the plan's length.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunLimits {
    /// From one beat's being decided on to the next one's, s.
    pub beat_s: f64,
    /// From the first command on, s.
    pub run_s: f64,
    /// Steps of the plant, one for the supply and one for each axis that does not rest.
    pub axis_steps: u64,
}

/// A run that was broken off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stop {
    /// When, seconds from the start.
    pub time_s: f64,
    /// Index of the last beat that had begun, from 0.
    pub beat: usize,
    /// Why.
    pub cause: Cause,
}

/// One sentence without its full stop.
impl fmt::Display for Stop {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "beat {} at {:.1} ms: {}", self.beat + 1, self.time_s * 1e3, self.cause)
    }
}
