//! How far a long work is, told to whoever watches, who may break it off.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Told the number of parts done; may break off.
pub(crate) type Progress<'a> = &'a (dyn Fn(usize) -> ControlFlow<()> + Sync);

/// What all threads of a work share.
pub(crate) struct Watch<'a> {
    done: AtomicUsize,
    stopped: AtomicBool,
    progress: Progress<'a>,
}

impl<'a> Watch<'a> {
    pub(crate) fn new(progress: Progress<'a>) -> Self {
        Self { done: AtomicUsize::new(0), stopped: AtomicBool::new(false), progress }
    }

    /// Whether it was broken off.
    pub(crate) fn stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }

    /// Another part is done.
    pub(crate) fn step(&self) {
        if (self.progress)(self.done.fetch_add(1, Ordering::Relaxed) + 1).is_break() {
            self.stopped.store(true, Ordering::Relaxed);
        }
    }
}
