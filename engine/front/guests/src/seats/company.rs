//! All guests of one rehearsal, in their seats.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use dryturn_driving::{ControllerSeat, HostSeat, Seats};
use dryturn_handoff::{GuestFault, GuestRole, SeatFault};
use dryturn_reading::Calibration;
use dryturn_rehearsal::{LatencyMs, PlannerSeat, Reader, ReaderSeat, Stages};
use dryturn_scene::Scene;

use super::{SeatedController, SeatedHost, SeatedPlanner, SeatedReader};
use crate::invited::{Invited, NotInvited};

/// The guests of one rehearsal. They are started for it and end with it, so that what they make
/// of it does not depend on rehearsals before.
pub struct Company {
    /// Who reads, if not Dryturn.
    pub reader: Option<SeatedReader>,
    planner: Option<SeatedPlanner>,
    host: Option<SeatedHost>,
    controller: Option<SeatedController>,
    latency_ms: LatencyMs,
}

impl Company {
    /// Starts those who play in a scene. One that cannot be started sits in its seat and says so
    /// when it is asked.
    ///
    /// # Errors
    /// The scene names a guest that may not play; nobody is started then.
    pub fn start(invited: &Invited, scene: &Arc<Scene>) -> Result<Self, NotInvited> {
        Self::of(invited, scene, &GuestRole::ALL)
    }

    /// Starts those alone who sit at the drive: a host, a controller.
    ///
    /// # Errors
    /// The scene names one of them that may not play; nobody is started then.
    pub fn at_the_drive(invited: &Invited, scene: &Arc<Scene>) -> Result<Self, NotInvited> {
        Self::of(invited, scene, &[GuestRole::Host, GuestRole::Controller])
    }

    fn of(invited: &Invited, scene: &Arc<Scene>, roles: &[GuestRole]) -> Result<Self, NotInvited> {
        let who = |role| if roles.contains(&role) { invited.who(scene, role) } else { Ok(None) };
        let [reader, planner] = [who(GuestRole::Reader)?, who(GuestRole::Planner)?];
        let [host, controller] = [who(GuestRole::Host)?, who(GuestRole::Controller)?];
        let file = &scene.file().guests;
        Ok(Self {
            reader: reader.map(|(command, limits)| SeatedReader::start(&command, limits, scene)),
            planner: planner.map(|(command, limits)| SeatedPlanner::start(&command, limits)),
            host: host.map(|(command, limits)| SeatedHost::start(&command, limits, scene)),
            controller: controller
                .map(|(command, limits)| SeatedController::start(&command, limits, scene)),
            latency_ms: LatencyMs {
                reader: file.reader.latency_ms,
                planner: file.planner.latency_ms,
                host: file.host.latency_ms,
                controller: file.controller.latency_ms,
            },
        })
    }

    /// Whether anybody plays.
    #[must_use]
    pub fn anybody(&self) -> bool {
        self.reader.is_some()
            || self.planner.is_some()
            || self.host.is_some()
            || self.controller.is_some()
    }

    /// Who plays, and how long the answers of each have taken here, in real time; never a part of a
    /// result.
    #[must_use]
    pub fn thought(&self) -> BTreeMap<GuestRole, Duration> {
        let seats = [
            (GuestRole::Reader, self.reader.as_ref().map(SeatedReader::thought)),
            (GuestRole::Planner, self.planner.as_ref().map(SeatedPlanner::thought)),
            (GuestRole::Host, self.host.as_ref().map(SeatedHost::thought)),
            (GuestRole::Controller, self.controller.as_ref().map(SeatedController::thought)),
        ];
        seats.into_iter().filter_map(|(role, thought)| Some((role, thought?))).collect()
    }

    /// Who plays the stages; `calibration` is for Dryturn's own reader. `None` where that reads and
    /// has none.
    pub fn stages<'a>(&'a mut self, calibration: Option<&'a Calibration>) -> Option<Stages<'a>> {
        let reader = match &mut self.reader {
            Some(reader) => Reader::Guest(reader),
            None => Reader::Ours(calibration?),
        };
        Some(Stages {
            planner: self.planner.as_mut().map(|seat| seat as &mut dyn PlannerSeat),
            host: self.host.as_mut().map(|seat| seat as &mut dyn HostSeat),
            controller: self.controller.as_mut().map(|seat| seat as &mut dyn ControllerSeat),
            latency_ms: self.latency_ms,
            ..Stages::read_by(reader)
        })
    }

    /// Who sits at the drive.
    pub fn driving(&mut self) -> Seats<'_> {
        Seats {
            host: self.host.as_mut().map(|seat| seat as &mut dyn HostSeat),
            controller: self.controller.as_mut().map(|seat| seat as &mut dyn ControllerSeat),
            host_latency_ms: self.latency_ms.host,
            controller_latency_ms: self.latency_ms.controller,
            ..Seats::default()
        }
    }

    /// Lets all of them end; those that do not end as they must, but for what is known already: what
    /// ended a guest before is its answer to goodbye too.
    #[must_use]
    pub fn goodbye(self, known: Option<&GuestFault>) -> Vec<GuestFault> {
        let mut faults = Vec::new();
        let mut end = |role, name: String, ended: Result<(), SeatFault>| {
            faults.extend(ended.err().map(|fault| GuestFault::of(role, &name, fault)));
        };
        if let Some(seat) = self.reader {
            end(GuestRole::Reader, seat.name().to_owned(), seat.goodbye());
        }
        if let Some(seat) = self.planner {
            end(GuestRole::Planner, seat.name().to_owned(), seat.goodbye());
        }
        if let Some(seat) = self.host {
            end(GuestRole::Host, seat.name().to_owned(), seat.goodbye());
        }
        if let Some(seat) = self.controller {
            end(GuestRole::Controller, seat.name().to_owned(), seat.goodbye());
        }
        faults.retain(|fault| known != Some(fault));
        faults
    }
}
