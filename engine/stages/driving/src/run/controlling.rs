//! Whoever sits in the controllers' place: asked at every tick, heard as much later as it thinks.

use std::collections::VecDeque;

use dryturn_handoff::SeatFault;

use crate::execution::Execution;
use crate::seats::{Ask, Asks, ControllerSeat, asks};

/// Before the first answer has come.
const NOTHING: Asks = [Ask::Current { asked_a: 0.0 }; 6];

/// Whoever sits there.
pub(super) struct Controlling<'a> {
    seat: &'a mut dyn ControllerSeat,
    /// What is asked for now, and what will be, tick by tick.
    now: Asks,
    coming: VecDeque<Asks>,
    /// Whether it is asked no more: what it asked for last goes on.
    silent: bool,
}

impl<'a> Controlling<'a> {
    /// Heard so many ticks after it was asked; `silent` where the run has failed before.
    pub(super) fn new(seat: &'a mut dyn ControllerSeat, ticks: usize, silent: bool) -> Self {
        Self { seat, now: NOTHING, coming: vec![NOTHING; ticks].into(), silent }
    }

    /// One tick of the rig. Whoever sits there is not asked once the drives have let go.
    pub(super) fn advance(&mut self, execution: &mut Execution<'_>) -> Result<(), SeatFault> {
        let asked =
            if self.silent || execution.has_let_go() { Ok(()) } else { self.ask(execution) };
        execution.advance_by(Some(&self.now));
        asked
    }

    fn ask(&mut self, execution: &Execution<'_>) -> Result<(), SeatFault> {
        let answered = self.seat.tick(&execution.controller_sees());
        match answered.and_then(|answer| asks(&answer)) {
            Ok(asks) => {
                self.coming.push_back(asks);
                self.now = self.coming.pop_front().unwrap_or(asks);
                Ok(())
            }
            Err(fault) => {
                self.silent = true;
                Err(fault)
            }
        }
    }

    pub(super) fn end(&mut self) {
        self.seat.end();
    }

    pub(super) fn name(&self) -> &str {
        self.seat.name()
    }
}
