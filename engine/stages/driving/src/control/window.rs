//! The latest values of something, tick by tick.

/// As many as the longest window needs.
const KEPT: usize = 33;
/// The longest window, ticks.
pub(super) const LONGEST: usize = KEPT - 1;

/// The latest values of something.
#[derive(Clone, Debug)]
pub(super) struct Window {
    past: [f64; KEPT],
    newest: usize,
}

impl Window {
    /// As if it had been the same all along.
    pub(super) fn of(value: f64) -> Self {
        Self { past: [value; KEPT], newest: 0 }
    }

    pub(super) fn push(&mut self, value: f64) {
        self.newest = (self.newest + 1) % KEPT;
        self.past[self.newest] = value;
    }

    /// By how much it has changed over so many ticks, at most [`LONGEST`].
    pub(super) fn change(&self, ticks: usize) -> f64 {
        self.past[self.newest] - self.past[(self.newest + KEPT - ticks) % KEPT]
    }
}
