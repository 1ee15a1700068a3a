//! What somebody in the controller's seat has asked of an axis.

use super::window::Window;
use crate::seats::Ask;

/// What was asked last.
#[derive(Clone, Debug)]
pub(super) struct Asked {
    last: Ask,
    /// Speeds of the set-points, rad/s.
    speeds: Window,
}

impl Asked {
    /// Asked for the first time.
    pub(super) fn first(ask: Ask) -> Self {
        Self { last: ask, speeds: Window::of(speed_rad_s(&ask)) }
    }

    pub(super) fn is(&self, ask: &Ask) -> bool {
        self.last == *ask
    }

    pub(super) fn note(&mut self, ask: Ask) {
        self.last = ask;
        self.speeds.push(speed_rad_s(&ask));
    }

    /// By how much its set-points' speed has changed over so many ticks, rad/s.
    pub(super) fn gained_rad_s(&self, ticks: usize) -> f64 {
        self.speeds.change(ticks)
    }
}

/// A current is asked for without a speed.
fn speed_rad_s(ask: &Ask) -> f64 {
    match *ask {
        Ask::Current { .. } => 0.0,
        Ask::SetPoint { speed_rad_s, .. } => speed_rad_s,
    }
}
