//! Causes of a stop without the face that they are about, and the kind of failure of each.

use dryturn_handoff::Cause;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::FailureKind;

/// Why a run was broken off, other than by a jam.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CauseKind {
    /// Somebody hit the emergency stop.
    EmergencyStop,
    /// The axes heard nothing from the host.
    Watchdog,
    /// There is no shaft on the face.
    NoShaft,
    /// A command was sent again too often.
    LinkLost,
    /// An axis was too far from its set-point.
    FollowingError,
    /// An axis stood still at its current limit.
    Stalled,
    /// An axis did not settle in the time that a beat may take.
    NotSettled,
    /// An axis left its settle window again and again.
    NotSteady,
    /// A shaft broke though nothing was in its way.
    ShaftBroken,
    /// The bus voltage rose too far.
    OverVoltage,
    /// The bus voltage fell too far.
    UnderVoltage,
    /// The brake resistor's thermal cut-out opened.
    ResistorHot,
    /// The simulation ended it, at a limit of its own.
    SimulationLimit,
    /// An axis refused a command, for its set-point still moved.
    Refused,
    /// The host stopped everything.
    HostStopped,
    /// Whoever sat in the place of a built-in stage could not go on.
    Guest,
}

impl From<Cause> for CauseKind {
    fn from(cause: Cause) -> Self {
        match cause {
            Cause::EmergencyStop => Self::EmergencyStop,
            Cause::Watchdog => Self::Watchdog,
            Cause::NoShaft(_) => Self::NoShaft,
            Cause::LinkLost(_) => Self::LinkLost,
            Cause::FollowingError(_) => Self::FollowingError,
            Cause::Stalled(_) => Self::Stalled,
            Cause::NotSettled(_) => Self::NotSettled,
            Cause::NotSteady(_) => Self::NotSteady,
            Cause::ShaftBroken(_) => Self::ShaftBroken,
            Cause::OverVoltage => Self::OverVoltage,
            Cause::UnderVoltage => Self::UnderVoltage,
            Cause::ResistorHot => Self::ResistorHot,
            Cause::Simulation(_) => Self::SimulationLimit,
            Cause::Refused(_) => Self::Refused,
            Cause::HostStopped => Self::HostStopped,
            Cause::Guest(_) => Self::Guest,
        }
    }
}

impl CauseKind {
    /// The kind of failure that it is.
    pub(super) fn failure(self) -> FailureKind {
        match self {
            Self::EmergencyStop => FailureKind::EmergencyStop,
            Self::Watchdog => FailureKind::Watchdog,
            Self::NoShaft => FailureKind::NoShaft,
            Self::LinkLost => FailureKind::LinkLost,
            Self::FollowingError
            | Self::Stalled
            | Self::NotSettled
            | Self::NotSteady
            | Self::Refused => FailureKind::DriveStop,
            Self::ShaftBroken => FailureKind::ShaftBroke,
            Self::OverVoltage | Self::UnderVoltage | Self::ResistorHot => FailureKind::Supply,
            Self::SimulationLimit => FailureKind::SimulationLimit,
            Self::HostStopped => FailureKind::HostStop,
            Self::Guest => FailureKind::Guest,
        }
    }
}
