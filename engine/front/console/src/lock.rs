//! Locks that somebody may have panicked with.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// Waits for a lock; what it guards is taken as it is, also where whoever had it panicked.
pub fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}
