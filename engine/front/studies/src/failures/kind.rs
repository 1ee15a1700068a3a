//! The kinds of failure: which one an end is, what documents and people call it.

use dryturn_handoff::{Jam, JamVerdict, Run, Stop};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::CauseKind;

/// Why an execution did not complete. Each failure has exactly one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FailureKind {
    /// A late face blocked its neighbour; the shafts held.
    Jam,
    /// A late face blocked its neighbour, and a shaft broke.
    JamBrokeShaft,
    /// A shaft broke with nothing in its way.
    ShaftBroke,
    /// A drive gave up.
    DriveStop,
    /// Commands were lost.
    LinkLost,
    /// The host fell silent.
    Watchdog,
    /// Bus voltage or brake resistor.
    Supply,
    /// A face without a shaft.
    NoShaft,
    /// Somebody stopped it.
    EmergencyStop,
    /// The simulation ended it at a limit of its own.
    SimulationLimit,
    /// The host stopped everything.
    HostStop,
    /// Whoever sat in a stage's place could not go on.
    Guest,
}

impl FailureKind {
    /// All of them, in the order of lists.
    pub const ALL: [Self; 12] = [
        Self::Jam,
        Self::JamBrokeShaft,
        Self::ShaftBroke,
        Self::DriveStop,
        Self::LinkLost,
        Self::Watchdog,
        Self::Supply,
        Self::NoShaft,
        Self::EmergencyStop,
        Self::SimulationLimit,
        Self::HostStop,
        Self::Guest,
    ];

    /// Of a run's end; `None` where every beat was turned.
    #[must_use]
    pub fn of(jam: Option<&Jam>, stop: Option<&Stop>) -> Option<Self> {
        if let Some(jam) = jam {
            let broke = jam.verdict == JamVerdict::ShaftBroken;
            return Some(if broke { Self::JamBrokeShaft } else { Self::Jam });
        }
        Some(CauseKind::from(stop?.cause).failure())
    }

    /// Of a run.
    #[must_use]
    pub fn of_run(run: &Run) -> Option<Self> {
        Self::of(run.jam(), run.stop())
    }

    /// Whether a late face blocked its neighbour.
    #[must_use]
    pub fn is_jam(self) -> bool {
        matches!(self, Self::Jam | Self::JamBrokeShaft)
    }

    /// What documents call it.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Jam => "jam",
            Self::JamBrokeShaft => "jam_broke_shaft",
            Self::ShaftBroke => "shaft_broke",
            Self::DriveStop => "drive_stop",
            Self::LinkLost => "link_lost",
            Self::Watchdog => "watchdog",
            Self::Supply => "supply",
            Self::NoShaft => "no_shaft",
            Self::EmergencyStop => "emergency_stop",
            Self::SimulationLimit => "simulation_limit",
            Self::HostStop => "host_stop",
            Self::Guest => "guest",
        }
    }

    /// Its name for a person, in a few words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Jam => "jam",
            Self::JamBrokeShaft => "jam that broke a shaft",
            Self::ShaftBroke => "broken shaft, no jam",
            Self::DriveStop => "drive stop",
            Self::LinkLost => "lost commands",
            Self::Watchdog => "watchdog",
            Self::Supply => "supply limit",
            Self::NoShaft => "missing shaft",
            Self::EmergencyStop => "emergency stop",
            Self::SimulationLimit => "limit of the simulation",
            Self::HostStop => "stop by the host",
            Self::Guest => "guest that failed",
        }
    }

    /// What that means, one sentence.
    #[must_use]
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Jam => "A face that was off its stop blocked its neighbour; the shafts held.",
            Self::JamBrokeShaft => {
                "A face that was off its stop blocked its neighbour, and a shaft broke."
            }
            Self::ShaftBroke => {
                "A shaft broke under the torque of turning, with nothing in its way."
            }
            Self::DriveStop => {
                "A drive gave up: too far from its set-point, at a stand at its current limit, not \
                 settled in time, or commanded to turn while it still moved."
            }
            Self::LinkLost => "A command was lost and sent again too often.",
            Self::Watchdog => "The axes heard nothing from the host, and their watchdogs let go.",
            Self::Supply => "The bus voltage or the brake resistor left its limits.",
            Self::NoShaft => "The plan turns a face that has no shaft.",
            Self::EmergencyStop => "Somebody hit the emergency stop.",
            Self::SimulationLimit => {
                "The simulation ended the run at its own limit of time or steps, or because the motion \
                 grew beyond all numbers: what the rig would have done is not known."
            }
            Self::HostStop => "The host stopped everything, for a reason of its own.",
            Self::Guest => "Whoever sat in the place of host or controller could not go on.",
        }
    }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::Face;
    use dryturn_handoff::{Cause, GuestRole, SimulationLimit};

    use super::*;

    /// Every cause of a stop has a kind, and kinds keep their places.
    #[test]
    fn every_end_has_one_kind() {
        assert!((0..).zip(FailureKind::ALL).all(|(place, kind)| kind as usize == place));
        let kind = |cause| FailureKind::of(None, Some(&Stop { time_s: 0.0, beat: 0, cause }));
        for (cause, wanted) in [
            (Cause::EmergencyStop, FailureKind::EmergencyStop),
            (Cause::Watchdog, FailureKind::Watchdog),
            (Cause::NoShaft(Face::U), FailureKind::NoShaft),
            (Cause::LinkLost(Face::U), FailureKind::LinkLost),
            (Cause::FollowingError(Face::R), FailureKind::DriveStop),
            (Cause::Stalled(Face::R), FailureKind::DriveStop),
            (Cause::NotSettled(Face::R), FailureKind::DriveStop),
            (Cause::NotSteady(Face::R), FailureKind::DriveStop),
            (Cause::Simulation(SimulationLimit::BeatTime), FailureKind::SimulationLimit),
            (Cause::Simulation(SimulationLimit::Numbers), FailureKind::SimulationLimit),
            (Cause::ShaftBroken(Face::B), FailureKind::ShaftBroke),
            (Cause::OverVoltage, FailureKind::Supply),
            (Cause::UnderVoltage, FailureKind::Supply),
            (Cause::ResistorHot, FailureKind::Supply),
            (Cause::Refused(Face::L), FailureKind::DriveStop),
            (Cause::HostStopped, FailureKind::HostStop),
            (Cause::Guest(GuestRole::Host), FailureKind::Guest),
        ] {
            assert_eq!(kind(cause), Some(wanted));
        }
        assert_eq!(FailureKind::of(None, None), None);
        let distinct = |of: fn(FailureKind) -> &'static str| {
            let mut all = FailureKind::ALL.map(of).to_vec();
            all.sort_unstable();
            all.dedup();
            assert_eq!(all.len(), FailureKind::ALL.len());
        };
        distinct(FailureKind::key);
        distinct(FailureKind::words);
        distinct(FailureKind::sentence);
    }
}
