//! A guest in the host's seat.

use std::sync::Arc;
use std::time::Duration;

use dryturn_driving::{HostAnswer, HostBrief, HostSeat, HostSees};
use dryturn_handoff::SeatFault;
use dryturn_scene::Scene;

use super::sitting::Sitting;
use crate::command::{GuestCommand, Limits};
use crate::roles::{self, GuestHost, HostBegin, HostView};

/// A guest in the host's seat.
pub struct SeatedHost {
    sitting: Sitting<GuestHost>,
    scene: Arc<Scene>,
}

impl SeatedHost {
    /// Starts it for a scene's rig; one that cannot be started says so when it is asked.
    #[must_use]
    pub fn start(command: &GuestCommand, limits: Limits, scene: &Arc<Scene>) -> Self {
        let guest = GuestHost::start(command, limits);
        let sitting = Sitting::of(command, guest, |guest| guest.session().name());
        Self { sitting, scene: scene.clone() }
    }

    /// How long its answers have taken here, in real time.
    pub(super) fn thought(&self) -> Duration {
        self.sitting.thought(GuestHost::session)
    }

    /// Lets it end.
    ///
    /// # Errors
    /// It does not end as it must.
    pub fn goodbye(self) -> Result<(), SeatFault> {
        self.sitting.leave(GuestHost::goodbye)
    }
}

impl HostSeat for SeatedHost {
    fn name(&self) -> &str {
        &self.sitting.name
    }

    fn begin(&mut self, brief: &HostBrief<'_>) -> Result<(), SeatFault> {
        let begin = HostBegin::of(brief, self.scene.file().handover.release_angle_deg);
        self.sitting.ask(|guest| guest.begin(&begin))
    }

    fn tick(&mut self, sees: &HostSees) -> Result<HostAnswer, SeatFault> {
        let HostSees { time_s, encoder_deg, setpoint_deg, moving: busy } = *sees;
        let view = HostView { time_s, encoder_deg, setpoint_deg, busy };
        self.sitting.ask(|guest| guest.tick(&view)).map(answered)
    }
}

/// Who gives up has finished nothing.
fn answered(answer: roles::HostAnswer) -> HostAnswer {
    match answer {
        roles::HostAnswer { stop: Some(why), .. } => HostAnswer::Stop(why),
        roles::HostAnswer { done: true, .. } => HostAnswer::Done,
        roles::HostAnswer { turns, .. } => HostAnswer::Turn(turns),
    }
}
