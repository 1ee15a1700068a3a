//! What a script has used up so far, of what it may: operations, time and memory.

use std::any::Any;
use std::fmt;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::Instant;

use super::Host;
use super::limits::{Limits, MAX_OPERATIONS, MAX_TEXT, size};

/// The language's own values may have this share of what is free of other things: one
/// operation may copy the largest of them, and small ones take twice their size.
const VALUES_SHARE: usize = 4;
/// This share of the limit is left for what lies free between pieces in use, for threads'
/// stacks and the program itself: with 32 threads up to 50 MB were seen beside what is counted.
const SYSTEM_SHARE: usize = 8;
/// Operations between two looks at the clock.
const CLOCK_OPERATIONS: u64 = 64;
/// Operations between two looks at what handles hold.
const HOLDINGS_OPERATIONS: u64 = 8;

/// What ended a script before its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// The host wanted it.
    Asked,
    Operations,
    /// The wall's clock.
    Time,
    /// So many bytes were in use, so many more asked for.
    Memory(usize, usize),
    /// The language's own values came to so many bytes.
    Values(usize),
    /// A list or map was to become a text that no script may have.
    Text,
}

/// What a script is doing: a verb, and its line.
#[derive(Clone, Debug, Default)]
pub(crate) struct Doing {
    pub(crate) verb: String,
    pub(crate) line: Option<usize>,
    pub(crate) trial: Option<u64>,
}

impl fmt::Display for Doing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}(…)", self.verb)?;
        self.line.map_or(Ok(()), |line| write!(f, " at line {line}"))?;
        self.trial.map_or(Ok(()), |trial| write!(f, ", trial {trial}"))
    }
}

type Holding = (Weak<dyn Any + Send + Sync>, usize);

/// What one script has used, asked by the language at every operation and by stages in
/// between.
pub(crate) struct Budget {
    pub(crate) limits: Limits,
    host: Arc<dyn Host>,
    started: Instant,
    /// Bytes in use before the script began.
    before: usize,
    operations: AtomicU64,
    /// Bytes in use at the last operation.
    at_last: AtomicUsize,
    /// What handles hold, as long as anybody has them.
    holdings: Mutex<Vec<Holding>>,
    held: AtomicUsize,
    /// What the record holds to the end.
    kept: AtomicUsize,
    end: Mutex<Option<End>>,
    doing: Mutex<Option<Doing>>,
    /// Whether a verb may be at work.
    busy: AtomicBool,
}

/// What a lock guards, as it is, also where whoever had it panicked.
pub(super) fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Budget {
    pub(crate) fn new(host: Arc<dyn Host>) -> Self {
        let before = host.bytes_in_use().unwrap_or(0);
        Self {
            limits: host.limits(),
            host,
            started: Instant::now(),
            before,
            operations: AtomicU64::new(0),
            at_last: AtomicUsize::new(before),
            holdings: Mutex::default(),
            held: AtomicUsize::new(0),
            kept: AtomicUsize::new(0),
            end: Mutex::default(),
            doing: Mutex::default(),
            busy: AtomicBool::new(false),
        }
    }

    /// What ended the script, where something did.
    pub(crate) fn end(&self) -> Option<End> {
        *locked(&self.end)
    }

    pub(crate) fn doing(&self) -> Option<Doing> {
        locked(&self.doing).clone()
    }

    /// Notes the verb that begins.
    pub(crate) fn begins(&self, verb: &str, line: Option<usize>, trial: Option<u64>) {
        *locked(&self.doing) = Some(Doing { verb: verb.to_owned(), line, trial });
        self.busy.store(true, Ordering::Relaxed);
    }

    /// Always true: the first cause stays.
    fn ended(&self, end: End) -> bool {
        locked(&self.end).get_or_insert(end);
        true
    }

    /// Ends the script for a text that is too long; what stands in its place until then.
    pub(crate) fn ends_with_a_text(&self) -> String {
        self.ended(End::Text);
        String::new()
    }

    fn late(&self) -> bool {
        self.started.elapsed() >= self.limits.timeout && self.ended(End::Time)
    }

    fn full(&self, in_use: usize, more: usize) -> bool {
        let own = self.limits.memory_bytes / SYSTEM_SHARE;
        in_use.saturating_add(more) > self.limits.memory_bytes - own
            && self.ended(End::Memory(in_use, more))
    }

    /// Asked by stages: whether to end, where so many bytes more are about to be taken.
    pub(crate) fn spent(&self, more: usize) -> bool {
        (self.host.stopped() && self.ended(End::Asked))
            || self.late()
            || self.host.bytes_in_use().is_some_and(|in_use| self.full(in_use, more))
    }

    /// Asked at every operation of the language: whether to end.
    pub(crate) fn operation(&self) -> bool {
        let count = self.operations.fetch_add(1, Ordering::Relaxed) + 1;
        if self.busy.swap(false, Ordering::Relaxed) {
            // The verb before is done.
            *locked(&self.doing) = None;
        }
        if self.host.stopped() {
            return self.ended(End::Asked);
        }
        if self.end() == Some(End::Text) {
            return true;
        }
        if count > MAX_OPERATIONS {
            return self.ended(End::Operations);
        }
        if count.is_multiple_of(CLOCK_OPERATIONS) && self.late() {
            return true;
        }
        let Some(in_use) = self.host.bytes_in_use() else { return false };
        self.at_last.store(in_use, Ordering::Relaxed);
        self.full(in_use, 0) || self.values_are_too_large(in_use, count)
    }

    fn values_are_too_large(&self, in_use: usize, count: u64) -> bool {
        let free = self.limits.memory_bytes.saturating_sub(self.before);
        if in_use.saturating_sub(self.before) <= free / VALUES_SHARE {
            return false;
        }
        if count.is_multiple_of(HOLDINGS_OPERATIONS) {
            let mut holdings = locked(&self.holdings);
            holdings.retain(|(handle, _)| handle.strong_count() > 0);
            self.held.store(holdings.iter().map(|(_, bytes)| bytes).sum(), Ordering::Relaxed);
        }
        let held = self.held.load(Ordering::Relaxed) + self.kept.load(Ordering::Relaxed);
        let values = in_use.saturating_sub(self.before + held);
        values > free.saturating_sub(held) / VALUES_SHARE && self.ended(End::Values(values))
    }

    /// A verb has made a value that a script now holds: what came into use meanwhile is
    /// its.
    pub(crate) fn holds<T: Any + Send + Sync>(&self, value: &Arc<T>) {
        self.hold(value, self.came_into_use());
    }

    /// The same of a value that was made on another one, which keeps all but so many bytes: a
    /// rig keeps what its cameras see.
    pub(crate) fn holds_on<T, On>(&self, value: &Arc<T>, own: usize, on: &Arc<On>)
    where
        T: Any + Send + Sync,
        On: Any + Send + Sync,
    {
        let bytes = self.came_into_use();
        self.hold(value, bytes.min(own));
        self.hold(on, bytes.saturating_sub(own));
    }

    fn hold<T: Any + Send + Sync>(&self, value: &Arc<T>, bytes: usize) {
        let handle: Arc<dyn Any + Send + Sync> = value.clone();
        locked(&self.holdings).push((Arc::downgrade(&handle), bytes));
        self.held.fetch_add(bytes, Ordering::Relaxed);
    }

    /// Bytes since the last operation, or since this was asked last.
    fn came_into_use(&self) -> usize {
        let in_use = self.host.bytes_in_use().unwrap_or(0);
        in_use.saturating_sub(self.at_last.swap(in_use, Ordering::Relaxed))
    }

    /// What came into use meanwhile is the record's, to the end.
    pub(crate) fn keeps(&self) {
        self.kept.fetch_add(self.came_into_use(), Ordering::Relaxed);
    }

    /// What ended the script, in words.
    pub(crate) fn words(&self, end: End) -> String {
        let at = match self.doing() {
            Some(doing) => format!("; it was in {doing}"),
            None => "; it was in the script's own steps".to_owned(),
        };
        let limit = size(self.limits.memory_bytes);
        match end {
            End::Asked => "stopped".to_owned(),
            End::Operations => format!(
                "the script takes more than {MAX_OPERATIONS} operations: is a loop endless?"
            ),
            End::Text => {
                format!("a list or map as text is too long: a text has at most {} bytes", MAX_TEXT)
            }
            End::Time => {
                format!(
                    "the script took its {} s (--timeout){at}",
                    self.limits.timeout.as_secs_f64()
                )
            }
            End::Memory(in_use, 0) => format!(
                "the script took its {limit} of memory (--memory, an {SYSTEM_SHARE}th for the system's \
                 own): {} are in use{at}",
                size(in_use)
            ),
            End::Memory(in_use, more) => format!(
                "the script has {limit} of memory (--memory, an {SYSTEM_SHARE}th for the system's own): \
                 {} are in use, and {} more were needed at once{at}",
                size(in_use),
                size(more)
            ),
            End::Values(values) => format!(
                "the script's own lists, maps and texts take {}: they may take a {VALUES_SHARE}th \
                 of the memory that is left of {limit} (--memory), for one step may copy them",
                size(values)
            ),
        }
    }
}
