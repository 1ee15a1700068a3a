//! Breaking off a long work from outside, and asking before much memory is taken.
//!
//! Base and stages have no clock and know of no person or limit. Whoever starts a work
//! may watch it with a [`Stop`], a question that the work asks again and again: every row
//! of a picture, every few thousand nodes of a search, every simulated execution. Where the
//! answer is yes, the work is left at once and nothing of it is kept: its threads unwind,
//! and [`Stop::watch`] returns [`Stopped`]. Otherwise a work gives the same bytes as if
//! nobody had watched.
//!
//! ```
//! use dryturn_units::stop::{Stop, Stopped, checkpoint};
//!
//! let endless = || loop {
//!     checkpoint();
//! };
//! assert_eq!(Stop::new(|_| true).watch(endless), Err(Stopped));
//! assert_eq!(Stop::never().watch(|| 6 * 7), Ok(42));
//! ```

use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

thread_local! {
    /// What watches the work that this thread is at.
    static HERE: RefCell<Stop> = const { RefCell::new(Stop(None)) };
}

/// The work was broken off; nothing of it is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stopped;

/// Asked with the bytes that are about to be taken.
type Question = dyn Fn(usize) -> bool + Send + Sync;

struct Watched {
    question: Box<Question>,
    /// Bytes that threads of the work are about to take, all together.
    asked_for: AtomicUsize,
}

/// Whether a work shall end. Clones are one and the same.
#[derive(Clone)]
pub struct Stop(Option<Arc<Watched>>);

/// Room that was asked for. Drop it when the memory is taken.
#[must_use = "the room is asked for until this is dropped"]
pub struct Room(Stop, usize);

impl Drop for Room {
    fn drop(&mut self) {
        if let Some(watched) = &self.0.0 {
            watched.asked_for.fetch_sub(self.1, Ordering::Relaxed);
        }
    }
}

impl Stop {
    /// Asks `question` whether to stop. It is told how many bytes the work is about to take,
    /// mostly 0, and may be asked by many threads at once, thousands of times a second.
    #[must_use]
    pub fn new(question: impl Fn(usize) -> bool + Send + Sync + 'static) -> Self {
        let question = Box::new(question);
        Self(Some(Arc::new(Watched { question, asked_for: AtomicUsize::new(0) })))
    }

    /// For a work that nobody breaks off.
    #[must_use]
    pub const fn never() -> Self {
        Self(None)
    }

    /// What watches the work that this thread is at.
    #[must_use]
    pub fn here() -> Self {
        HERE.with_borrow(Self::clone)
    }

    fn wanted(&self) -> bool {
        self.0.as_ref().is_some_and(|w| (w.question)(w.asked_for.load(Ordering::Relaxed)))
    }

    /// Does a work under this watch.
    ///
    /// # Errors
    /// It was broken off.
    pub fn watch<T>(&self, work: impl FnOnce() -> T) -> Result<T, Stopped> {
        match catch_unwind(AssertUnwindSafe(|| self.under(work))) {
            Ok(result) => Ok(result),
            Err(cause) if cause.is::<Stopped>() => Err(Stopped),
            Err(cause) => resume_unwind(cause),
        }
    }

    /// Does a part of a watched work that another thread may have begun.
    fn under<T>(&self, part: impl FnOnce() -> T) -> T {
        /// Puts back what watched before, also when the work is left.
        struct Back(Stop);
        impl Drop for Back {
            fn drop(&mut self) {
                HERE.set(self.0.clone());
            }
        }
        let _back = Back(HERE.replace(self.clone()));
        part()
    }
}

/// Leaves the work if whoever watches it wants that. Cheap: a few tens of nanoseconds.
pub fn checkpoint() {
    if HERE.with_borrow(Stop::wanted) {
        resume_unwind(Box::new(Stopped));
    }
}

/// Asks for room before so many bytes are taken at once; leaves the work where there is
/// none.
pub fn room(bytes: usize) -> Room {
    let room = Room(Stop::here(), bytes);
    if let Some(watched) = &room.0.0 {
        watched.asked_for.fetch_add(bytes, Ordering::Relaxed);
    }
    checkpoint();
    room
}

/// The same closure for other threads: they ask what watches this one, once before every
/// call.
///
/// ```
/// use dryturn_units::stop::{Stop, Stopped, carried};
///
/// let squares = || [1, 2, 3].into_iter().map(carried(|n: i32| n * n)).sum::<i32>();
/// assert_eq!(squares(), 14);
/// assert_eq!(Stop::new(|_| true).watch(squares), Err(Stopped));
/// ```
pub fn carried<A, T>(part: impl Fn(A) -> T) -> impl Fn(A) -> T {
    let stop = Stop::here();
    move |item| {
        stop.under(|| {
            checkpoint();
            part(item)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_threads_ask_what_watches_the_first() {
        let asked = Arc::new(AtomicUsize::new(0));
        let counter = asked.clone();
        let stop = Stop::new(move |_| counter.fetch_add(1, Ordering::Relaxed) >= 100);
        let ended = stop.watch(|| {
            let part = carried(|n: usize| (n..usize::MAX).for_each(|_| checkpoint()));
            std::thread::scope(|scope| {
                let all: Vec<_> = (0..4)
                    .map(|n| {
                        let part = &part;
                        scope.spawn(move || part(n))
                    })
                    .collect();
                for thread in all {
                    if let Err(cause) = thread.join() {
                        resume_unwind(cause);
                    }
                }
            });
        });
        assert_eq!(ended, Err(Stopped));
        assert!(asked.load(Ordering::Relaxed) >= 100);
        // What nobody watches goes on.
        checkpoint();
    }

    #[test]
    fn room_is_counted_over_all_that_ask_until_it_is_taken() {
        let stop = Stop::new(|bytes| bytes > 100);
        let both = || {
            let one = room(60);
            drop(one);
            let _two = room(60);
            let _three = room(40);
            5
        };
        assert_eq!(stop.watch(both), Ok(5));
        let too_much = || {
            let _one = room(60);
            let _two = room(60);
        };
        assert_eq!(stop.watch(too_much), Err(Stopped));
        assert_eq!(stop.watch(both), Ok(5), "what was asked for is given back");
    }

    #[test]
    #[should_panic(expected = "a bug")]
    fn a_panic_stays_a_panic() {
        let _ = Stop::never().watch(|| panic!("a bug"));
    }
}
