//! A guest that sits, or why it does not.

use std::time::Duration;

use dryturn_handoff::SeatFault;

use crate::command::GuestCommand;
use crate::fault::ProcessFault;
use crate::protocol::Session;

/// A guest in a seat. One that could not be started sits there too: whatever it is asked, that is
/// its answer.
pub(super) struct Sitting<G> {
    /// What it calls itself; its program where it never said.
    pub(super) name: String,
    guest: Result<G, ProcessFault>,
}

impl<G> Sitting<G> {
    /// Of a guest that was started; `name` gives what it calls itself.
    pub(super) fn of(
        command: &GuestCommand,
        guest: Result<G, ProcessFault>,
        name: impl FnOnce(&G) -> &str,
    ) -> Self {
        let name = match &guest {
            Ok(guest) => name(guest).to_owned(),
            Err(_) => command.program().to_owned(),
        };
        Self { name, guest }
    }

    /// Asks it.
    pub(super) fn ask<A>(
        &mut self,
        question: impl FnOnce(&mut G) -> Result<A, ProcessFault>,
    ) -> Result<A, SeatFault> {
        match &mut self.guest {
            Ok(guest) => question(guest).map_err(SeatFault::from),
            Err(fault) => Err(fault.clone().into()),
        }
    }

    /// How long its answers have taken here, in real time.
    pub(super) fn thought(&self, session: impl FnOnce(&G) -> &Session) -> Duration {
        self.guest.as_ref().map_or(Duration::ZERO, |guest| session(guest).thought())
    }

    /// Lets it go; one that never came has nothing to say any more.
    pub(super) fn leave(
        self,
        goodbye: impl FnOnce(G) -> Result<(), ProcessFault>,
    ) -> Result<(), SeatFault> {
        self.guest.map_or(Ok(()), |guest| goodbye(guest).map_err(SeatFault::from))
    }
}
