//! A guest in the reader's seat.

use std::sync::Arc;
use std::time::Duration;

use dryturn_handoff::{Frame, Reading, SeatFault};
use dryturn_reading::KnownScan;
use dryturn_rehearsal::ReaderSeat;
use dryturn_scene::Scene;

use super::sitting::Sitting;
use crate::command::{GuestCommand, Limits};
use crate::roles::GuestReader;

/// A guest in the reader's seat.
pub struct SeatedReader {
    sitting: Sitting<GuestReader>,
    /// What it is about to learn from.
    known: Vec<KnownScan>,
    /// Why it did not learn: it cannot read then.
    unlearnt: Option<SeatFault>,
}

impl SeatedReader {
    /// Starts it for pictures of a scene; one that cannot be started says so when it is asked.
    #[must_use]
    pub fn start(command: &GuestCommand, limits: Limits, scene: &Arc<Scene>) -> Self {
        let guest = GuestReader::start(command, limits, scene);
        let sitting = Sitting::of(command, guest, |guest| guest.session().name());
        Self { sitting, known: Vec::new(), unlearnt: None }
    }

    /// How long its answers have taken here, in real time.
    #[must_use]
    pub fn thought(&self) -> Duration {
        self.sitting.thought(GuestReader::session)
    }

    /// Lets it end.
    ///
    /// # Errors
    /// It does not end as it must.
    pub fn goodbye(self) -> Result<(), SeatFault> {
        self.sitting.leave(GuestReader::goodbye)
    }
}

impl ReaderSeat for SeatedReader {
    fn name(&self) -> &str {
        &self.sitting.name
    }

    /// It knows the drawing of the scene that it was started for, which has the same cameras.
    fn begin(&mut self, _: &Arc<Scene>) -> Result<(), SeatFault> {
        (self.known, self.unlearnt) = (Vec::new(), None);
        Ok(())
    }

    fn learn(&mut self, scan: &KnownScan) -> Result<(), SeatFault> {
        self.known.push(KnownScan { shown: scan.shown, frames: scan.frames.clone() });
        Ok(())
    }

    fn learnt(&mut self) -> Result<(), SeatFault> {
        let known = std::mem::take(&mut self.known);
        let learnt = self.sitting.ask(|guest| guest.calibrate(&known));
        self.unlearnt = learnt.as_ref().err().cloned();
        learnt
    }

    fn read(&mut self, frames: &[Frame]) -> Result<Reading, SeatFault> {
        match &self.unlearnt {
            Some(fault) => Err(fault.clone()),
            None => self.sitting.ask(|guest| guest.read(frames)),
        }
    }
}
