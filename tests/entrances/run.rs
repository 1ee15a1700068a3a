//! Executions of a body on changed files, over threads: how many were taken, what took longest,
//! and what must not be.

use std::any::Any;
use std::fs::File;
use std::io::{Seek as _, SeekFrom, Write as _};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use dryturn_units::noise::Seed;

use super::mutate::Mutator;

/// The stack that the program's main thread has.
const STACK_BYTES: usize = 8 << 20;
/// An execution that takes longer does not end.
const ENDLESS: Duration = Duration::from_secs(120);
/// After so many troubles the rest is not run.
const MOST_TROUBLES: usize = 8;
/// Bytes of an input that are shown.
const SHOWN: usize = 300;

/// What is run on what.
pub(super) struct Work {
    pub(super) name: &'static str,
    pub(super) body: fn(&[u8]) -> bool,
    pub(super) mutator: Mutator,
    pub(super) asked: Asked,
}

/// How much of it. An execution is named by seed and number, and is the same on any threads.
#[derive(Clone, Copy)]
pub(super) struct Asked {
    pub(super) seed: u64,
    /// Number of the first.
    pub(super) from: u64,
    pub(super) executions: u64,
    pub(super) threads: usize,
    /// Longest that one may take, s; nobody looks where there is none.
    pub(super) longest_s: Option<f64>,
    /// Whether each thread keeps a file with the number of its execution, so that one that takes
    /// the process down is known afterwards.
    pub(super) kept: bool,
}

/// What it came to.
#[derive(Default)]
pub(super) struct Ran {
    pub(super) executions: u64,
    pub(super) accepted: u64,
    /// Seconds, and which it was.
    pub(super) slowest: (f64, u64),
    pub(super) troubles: Vec<String>,
}

impl Ran {
    fn add(&mut self, other: Self) {
        self.executions += other.executions;
        self.accepted += other.accepted;
        if other.slowest.0 > self.slowest.0 {
            self.slowest = other.slowest;
        }
        self.troubles.extend(other.troubles);
    }

    /// In one line.
    pub(super) fn words(&self) -> String {
        let share = 100.0 * self.accepted as f64 / self.executions.max(1) as f64;
        let (slowest_s, number) = self.slowest;
        format!(
            "{} executions, {share:.1} % taken, slowest {slowest_s:.3} s (number {number}), \
             {} troubles",
            self.executions,
            self.troubles.len()
        )
    }
}

/// What threads share.
struct Shared {
    next: AtomicU64,
    troubles: AtomicUsize,
    /// By thread: what it is at, and since when.
    at: Vec<Mutex<Option<(Instant, u64)>>>,
    ran: Mutex<Ran>,
}

fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Work {
    /// All executions. Threads are their own and not those of a pool: one of these would take up
    /// another execution while it waits for a part of the first, and its time would be that of
    /// both.
    pub(super) fn all(&self) -> Ran {
        let all = Shared {
            next: AtomicU64::new(self.asked.from),
            troubles: AtomicUsize::new(0),
            at: (0..self.asked.threads.max(1)).map(|_| Mutex::default()).collect(),
            ran: Mutex::default(),
        };
        let shared = &all;
        thread::scope(|scope| {
            let begin = |place: usize| {
                let thread = thread::Builder::new().stack_size(STACK_BYTES);
                thread.spawn_scoped(scope, move || self.some(shared, place)).unwrap()
            };
            let threads: Vec<_> = (0..shared.at.len()).map(begin).collect();
            while threads.iter().any(|thread| !thread.is_finished()) {
                thread::sleep(Duration::from_millis(5));
                for at in &shared.at {
                    let now = *locked(at);
                    if let Some((since, number)) = now
                        && since.elapsed() > ENDLESS
                    {
                        self.endless(number);
                    }
                }
            }
        });
        all.ran.into_inner().unwrap_or_else(PoisonError::into_inner)
    }

    /// What one thread does.
    fn some(&self, shared: &Shared, place: usize) {
        let Asked { from, executions, longest_s, kept, .. } = self.asked;
        let mut ran = Ran::default();
        let path = temporary(&format!("{}-thread-{place}", self.name));
        let mut number_file = kept.then(|| File::create(&path).unwrap());
        while shared.troubles.load(Ordering::Relaxed) < MOST_TROUBLES {
            let number = shared.next.fetch_add(1, Ordering::Relaxed);
            if number >= from + executions {
                break;
            }
            if let Some(file) = &mut number_file {
                file.seek(SeekFrom::Start(0)).unwrap();
                writeln!(file, "{number:020}").unwrap();
            }
            let bytes = self.mutant(number);
            let started = Instant::now();
            *locked(&shared.at[place]) = Some((started, number));
            let came = catch_unwind(AssertUnwindSafe(|| (self.body)(&bytes)));
            let took_s = started.elapsed().as_secs_f64();
            *locked(&shared.at[place]) = None;
            ran.executions += 1;
            ran.accepted += u64::from(came.as_ref().is_ok_and(|taken| *taken));
            if took_s > ran.slowest.0 {
                ran.slowest = (took_s, number);
            }
            let trouble = match &came {
                Err(cause) => Some(format!("panicked: {}", message(&**cause))),
                Ok(_) if longest_s.is_some_and(|longest_s| took_s > longest_s) => {
                    Some(format!("took {took_s:.1} s"))
                }
                Ok(_) => None,
            };
            if let Some(trouble) = trouble {
                shared.troubles.fetch_add(1, Ordering::Relaxed);
                ran.troubles.push(self.told(number, &bytes, &trouble));
                println!("{}", ran.troubles[ran.troubles.len() - 1]);
            }
        }
        if number_file.is_some() {
            // One that is left behind misleads nobody but us.
            let _ = std::fs::remove_file(&path);
        }
        locked(&shared.ran).add(ran);
    }

    /// The input of an execution.
    fn mutant(&self, number: u64) -> Vec<u8> {
        let stream = format!("entrance {}", self.name);
        self.mutator.mutant(&mut Seed::new(self.asked.seed).stream(&stream, number, 0))
    }

    /// A trouble with its input, which is kept in a file.
    fn told(&self, number: u64, bytes: &[u8], trouble: &str) -> String {
        let (name, seed) = (self.name, self.asked.seed);
        let path = temporary(&format!("{name}-{seed}-{number}"));
        let place = match std::fs::write(&path, bytes) {
            Ok(()) => path.display().to_string(),
            Err(error) => format!("not kept: {error}"),
        };
        let shown = bytes[..bytes.len().min(SHOWN)].escape_ascii();
        format!(
            "{name}, seed {seed}, number {number}: {trouble}\n  {} bytes ({place}): {shown}",
            bytes.len()
        )
    }

    /// Nothing ends a thread but the end of the process.
    fn endless(&self, number: u64) -> ! {
        let told = self.told(number, &self.mutant(number), "does not end");
        // Not by `println!`, which tests hold back until they end.
        let _ = writeln!(std::io::stderr(), "{told}");
        std::process::abort()
    }
}

fn temporary(name: &str) -> PathBuf {
    std::env::temp_dir().join(format!("dryturn-entrance-{name}"))
}

fn message(cause: &(dyn Any + Send)) -> String {
    match (cause.downcast_ref::<&str>(), cause.downcast_ref::<String>()) {
        (Some(text), _) => (*text).to_owned(),
        (_, Some(text)) => text.clone(),
        _ => "no message".to_owned(),
    }
}

/// The most that this process has had resident; `None` where the system does not tell.
pub(super) fn peak_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(1024 * kilobytes)
}
