//! How far a long work is, told to whoever watches, who may break it off.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use super::pieces::NumberedPieces;
use super::stored::Stored;

/// Told the number of parts done; may break off.
pub type Progress<'a> = &'a (dyn Fn(usize) -> ControlFlow<()> + Sync);

/// What all threads of a work share.
pub(crate) struct Watch<'a> {
    done: AtomicUsize,
    stopped: AtomicBool,
    progress: Progress<'a>,
    pieces: Option<&'a NumberedPieces<'a>>,
}

impl<'a> Watch<'a> {
    pub(crate) fn new(progress: Progress<'a>) -> Self {
        Self::keeping(progress, None)
    }

    /// Of a work whose pieces are kept, if they are.
    pub(crate) fn keeping(progress: Progress<'a>, pieces: Option<&'a NumberedPieces<'a>>) -> Self {
        Self { done: AtomicUsize::new(0), stopped: AtomicBool::new(false), progress, pieces }
    }

    /// The next piece of the work, of so many parts: as it was kept, or made; `None` where the
    /// work was broken off.
    pub(crate) fn piece<T: Stored>(
        &self,
        count: usize,
        make: impl FnOnce() -> Option<Vec<T>>,
    ) -> Option<Vec<T>> {
        let Some(pieces) = self.pieces else { return make() };
        let (piece, kept) = pieces.next(count, make)?;
        if kept {
            piece.iter().for_each(|_| self.step());
        }
        (!self.stopped()).then_some(piece)
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
