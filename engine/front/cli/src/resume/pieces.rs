//! Pieces of a work, each a file that begins with the digest of its bytes; one that is damaged is
//! made again.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use dryturn_console::locked;
use dryturn_studies::Keeper;

use super::{Work, sealed, unsealed};
use crate::failure::Failure;
use crate::output::OutputFolder;

/// Keeps pieces below an output folder.
pub(crate) struct Pieces<'a> {
    work: Work,
    folder: &'a OutputFolder,
    failure: Mutex<Option<Failure>>,
    kept: AtomicUsize,
    recalled: AtomicUsize,
}

impl<'a> Pieces<'a> {
    pub(crate) fn of(work: Work, folder: &'a OutputFolder) -> Self {
        Self {
            work,
            folder,
            failure: Mutex::new(None),
            kept: AtomicUsize::new(0),
            recalled: AtomicUsize::new(0),
        }
    }

    fn name(&self, piece: usize) -> String {
        format!("{}/{piece:06}", self.work.folder)
    }

    /// Executions that are kept, and those of them that were there already.
    pub(crate) fn counts(&self) -> (usize, usize) {
        let of = |count: &AtomicUsize| count.load(Ordering::Relaxed);
        (of(&self.kept) + of(&self.recalled), of(&self.recalled))
    }

    /// Why a piece could not be kept.
    pub(crate) fn failure(&self) -> Option<Failure> {
        locked(&self.failure).take()
    }
}

impl Keeper for Pieces<'_> {
    fn recall(&self, piece: usize) -> Option<Vec<u8>> {
        let found = self.folder.read(&self.name(piece)).ok()??;
        unsealed(&found).map(<[u8]>::to_vec)
    }

    fn recalled(&self, items: usize) {
        self.recalled.fetch_add(items, Ordering::Relaxed);
    }

    fn keep(&self, piece: usize, bytes: &[u8], items: usize) -> bool {
        match self.folder.keep(&self.name(piece), &sealed(bytes), true) {
            Ok(()) => {
                self.kept.fetch_add(items, Ordering::Relaxed);
                true
            }
            Err(failure) => {
                *locked(&self.failure) = Some(failure);
                false
            }
        }
    }
}

/// Why a work has no end: what was kept could not be written, or somebody ended it.
pub(crate) fn broken_off(kept: Option<&Pieces<'_>>, all: usize, what: &str) -> Failure {
    let Some(kept) = kept else {
        return Failure::broken_off("nothing is kept without --out");
    };
    kept.failure().unwrap_or_else(|| {
        let of = if all > 0 { format!(" of {all}") } else { String::new() };
        let count = kept.counts().0;
        Failure::broken_off(format!(
            "{count}{of} {what} are kept; the same call goes on from there"
        ))
    })
}

/// How much of a work came from an earlier call, to be said behind how much was done.
pub(crate) fn were_there(recalled: usize) -> String {
    if recalled > 0 { format!("; {recalled} were there already") } else { String::new() }
}
