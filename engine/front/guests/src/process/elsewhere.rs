//! Where there are no process groups there are no guests.

use core::convert::Infallible;
use std::path::Path;
use std::time::Duration;

use super::Wanted;
use crate::command::GuestCommand;
use crate::fault::FaultKind;

/// There is none.
pub(crate) struct Process(Infallible);

impl Process {
    pub(crate) fn start(_: &GuestCommand) -> Result<Self, FaultKind> {
        let why = "guests need a Unix system, whose process groups end all that they start";
        Err(FaultKind::NotStarted { why: why.to_owned() })
    }

    pub(crate) fn folder(&self) -> &Path {
        match self.0 {}
    }

    pub(crate) fn ask(&mut self, _: &[u8], _: Wanted, _: Duration) -> Result<(), FaultKind> {
        match self.0 {}
    }

    pub(crate) fn answer(&self) -> &[u8] {
        match self.0 {}
    }

    pub(crate) fn said_nothing(&mut self) -> Result<(), FaultKind> {
        match self.0 {}
    }

    pub(crate) fn leave(&mut self, _: Duration) -> Result<(), FaultKind> {
        match self.0 {}
    }

    pub(crate) fn end(&mut self) {
        match self.0 {}
    }

    pub(crate) fn stderr_tail(&mut self) -> Vec<String> {
        match self.0 {}
    }
}

/// Ends all guests that still run.
pub fn end_all() {}
