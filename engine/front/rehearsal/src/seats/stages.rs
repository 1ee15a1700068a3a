//! Who plays the stages of a rehearsal.

use dryturn_driving::{ControllerSeat, HostSeat, Seats};
use dryturn_handoff::GuestRole;
use dryturn_reading::Calibration;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{PlannerSeat, ReaderSeat};

/// Who reads.
pub enum Reader<'a> {
    /// The built-in reader, by what it has learnt.
    Ours(&'a Calibration),
    /// Somebody in its seat, who has been taught by
    /// [`BuiltRig::teach`](crate::BuiltRig::teach).
    Guest(&'a mut dyn ReaderSeat),
}

/// What an answer costs on the rig's clock, ms each, whatever it takes here; at least 0.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LatencyMs {
    /// Of a reading; steps come on top.
    pub reader: f64,
    /// Of a plan; operations come on top.
    pub planner: f64,
    /// From a tick of the host's until what it commands then leaves.
    pub host: f64,
    /// From the reading of the encoders until what is asked for takes effect.
    pub controller: f64,
}

/// Who plays the stages of a rehearsal: the built-in ones, but where somebody sits.
pub struct Stages<'a> {
    /// Who reads.
    pub reader: Reader<'a>,
    /// Who plans, if not the built-in planner.
    pub planner: Option<&'a mut dyn PlannerSeat>,
    /// Who commands, if not the built-in host.
    pub host: Option<&'a mut dyn HostSeat>,
    /// Who moves the axes, if not the built-in controllers.
    pub controller: Option<&'a mut dyn ControllerSeat>,
    /// What the answers of those who sit there cost on the rig.
    pub latency_ms: LatencyMs,
}

impl<'a> Stages<'a> {
    /// The built-in ones, by what the reader has learnt.
    #[must_use]
    pub fn ours(calibration: &'a Calibration) -> Self {
        Self::read_by(Reader::Ours(calibration))
    }

    /// The built-in ones, but for the reader.
    #[must_use]
    pub fn read_by(reader: Reader<'a>) -> Self {
        Self {
            reader,
            planner: None,
            host: None,
            controller: None,
            latency_ms: LatencyMs::default(),
        }
    }

    /// Who sits at the drive.
    pub fn driving(&mut self) -> Seats<'_> {
        let host: Option<&mut dyn HostSeat> = match &mut self.host {
            Some(host) => Some(&mut **host),
            None => None,
        };
        let controller: Option<&mut dyn ControllerSeat> = match &mut self.controller {
            Some(controller) => Some(&mut **controller),
            None => None,
        };
        Seats {
            host,
            controller,
            host_latency_ms: self.latency_ms.host,
            controller_latency_ms: self.latency_ms.controller,
            ..Seats::default()
        }
    }

    /// What those who sit there call themselves.
    #[must_use]
    pub fn guests(&self) -> Guests {
        let name = |name: &str| Some(name.to_owned());
        Guests {
            reader: match &self.reader {
                Reader::Ours(_) => None,
                Reader::Guest(reader) => name(reader.name()),
            },
            planner: self.planner.as_ref().and_then(|planner| name(planner.name())),
            host: self.host.as_ref().and_then(|host| name(host.name())),
            controller: self.controller.as_ref().and_then(|controller| name(controller.name())),
        }
    }
}

/// What those call themselves who played stages of a rehearsal.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Guests {
    /// Who read; absent where Dryturn did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reader: Option<String>,
    /// Who planned; absent where Dryturn did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planner: Option<String>,
    /// Who commanded; absent where Dryturn did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub host: Option<String>,
    /// Who moved the axes; absent where Dryturn did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controller: Option<String>,
}

impl Guests {
    /// Who played a stage.
    #[must_use]
    pub fn played(&self, role: GuestRole) -> Option<&str> {
        let name = match role {
            GuestRole::Reader => &self.reader,
            GuestRole::Planner => &self.planner,
            GuestRole::Host => &self.host,
            GuestRole::Controller => &self.controller,
        };
        name.as_deref()
    }

    /// What they played, for a person: `Guests: reader "my reader", host "my host 1".` `None` where
    /// nobody did.
    #[must_use]
    pub fn in_words(&self) -> Option<String> {
        let played = |role: GuestRole| Some(format!("{role} {:?}", self.played(role)?));
        let all: Vec<String> = GuestRole::ALL.into_iter().filter_map(played).collect();
        (!all.is_empty()).then(|| format!("Guests: {}.", all.join(", ")))
    }
}
