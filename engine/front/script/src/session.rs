//! What the verbs of one script run share.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use dryturn_rehearsal::{Content, Exhibit, OutputFile, Record, Rehearser};
use dryturn_units::noise::Seed;
use rhai::EvalAltResult;
use serde_json::Value as Json;

/// What a script run asks of the program around it.
pub trait Host: Send + Sync {
    /// Reads a text file; the path is as the script gives it.
    ///
    /// # Errors
    /// One line that names the file and what is wrong.
    fn read_text(&self, path: &str) -> Result<String, String>;

    /// Told how much of a long work is done: its name, done and all.
    fn progress(&self, what: &str, done: usize, all: usize);

    /// Whether the person who started the script wants it to stop.
    fn stopped(&self) -> bool {
        false
    }
}

/// Most files that one script may write.
const MAX_FILES: usize = 1000;
/// Most exhibits that a report shows.
const MAX_EXHIBITS: usize = 24;
/// Most scans that one script may take by itself; drills do not count.
const MAX_SCANS: usize = 1000;
/// Most bytes of notes and expectations together.
const MAX_TEXT_BYTES: usize = 4 << 20;
/// Names that the program itself writes.
const RESERVED: [&str; 2] = ["report.html", "ledger.jsonl"];

pub(crate) type Fallible<T> = Result<T, Box<EvalAltResult>>;

/// A script error with a message of our own.
pub(crate) fn fault<T>(message: impl ToString) -> Fallible<T> {
    Err(message.to_string().into())
}

/// What the person who starts a script gives it: texts by name.
pub type Settings = BTreeMap<String, String>;

pub(crate) struct Session {
    pub(crate) rehearser: Rehearser,
    settings: Settings,
    asked: Mutex<BTreeSet<String>>,
    pub(crate) host: Arc<dyn Host>,
    record: Mutex<Record>,
    scans: AtomicUsize,
    text_bytes: AtomicUsize,
}

impl Session {
    pub(crate) fn new(seed: Seed, settings: Settings, host: Arc<dyn Host>) -> Self {
        Self {
            rehearser: Rehearser::new(seed),
            settings,
            asked: Mutex::default(),
            host,
            record: Mutex::default(),
            scans: AtomicUsize::new(0),
            text_bytes: AtomicUsize::new(0),
        }
    }

    /// What was given for a name; the script has asked for it.
    pub(crate) fn setting(&self, name: &str) -> Option<&str> {
        self.asked.lock().unwrap_or_else(PoisonError::into_inner).insert(name.to_owned());
        self.settings.get(name).map(String::as_str)
    }

    /// A setting that the script never asked for.
    pub(crate) fn unused_setting(&self) -> Option<&str> {
        let asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        self.settings.keys().find(|name| !asked.contains(*name)).map(String::as_str)
    }

    pub(crate) fn record(&self) -> MutexGuard<'_, Record> {
        self.record.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn take_record(&self) -> Record {
        std::mem::take(&mut *self.record())
    }

    pub(crate) fn log(&self, line: Json) {
        let mut record = self.record();
        record.ledger.push(line);
        let stages = record.ledger.len();
        drop(record);
        self.host.progress("stages", stages, 0);
    }

    /// Tells the host how much of a long work is done, and whether the person wants it to
    /// stop.
    pub(crate) fn watched(
        &self,
        what: &'static str,
        all: usize,
    ) -> impl Fn(usize) -> ControlFlow<()> + Sync {
        move |done| {
            self.host.progress(what, done, all);
            if self.host.stopped() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        }
    }

    /// Counts a scan, which holds megabytes.
    pub(crate) fn count_scan(&self) -> Fallible<()> {
        if self.scans.fetch_add(1, Ordering::Relaxed) < MAX_SCANS {
            return Ok(());
        }
        fault(format!("a script scans at most {MAX_SCANS} times; a drill takes more"))
    }

    /// Counts text that the report will hold.
    pub(crate) fn count_text(&self, text: &str) -> Fallible<()> {
        // Every entry costs something, however short.
        let bytes = text.len() + 64;
        if self.text_bytes.fetch_add(bytes, Ordering::Relaxed) + bytes <= MAX_TEXT_BYTES {
            return Ok(());
        }
        fault(format!("a script notes and expects at most {MAX_TEXT_BYTES} bytes of text"))
    }

    pub(crate) fn note(&self, text: &str) -> Fallible<()> {
        self.count_text(text)?;
        self.record().notes.push(text.to_owned());
        Ok(())
    }

    pub(crate) fn show(&self, exhibit: Exhibit) {
        let mut record = self.record();
        if record.exhibits.len() < MAX_EXHIBITS {
            record.exhibits.push(exhibit);
        } else if record.exhibits.len() == MAX_EXHIBITS {
            let note = format!(
                "The report shows the first {MAX_EXHIBITS} passes, drills and the like only."
            );
            if !record.notes.contains(&note) {
                record.notes.push(note);
            }
        }
    }

    /// Takes back what another exhibit shows better.
    pub(crate) fn hide(&self, what: impl Fn(&Exhibit) -> bool) {
        self.record().exhibits.retain(|exhibit| !what(exhibit));
    }

    /// Puts a file into the record, to be written when the script has ended.
    pub(crate) fn save(&self, path: &str, content: Content) -> Fallible<()> {
        let allowed = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-' | '/');
        let parts_fine = path.split('/').all(|part| !part.is_empty() && !part.starts_with('.'));
        if path.len() > 200 || !path.chars().all(allowed) || !parts_fine {
            return fault(format!(
                "cannot write {path:?}: a file name is below the output folder, of letters, \
                 digits, '.', '_', '-' and '/', no part starting with '.'"
            ));
        }
        let first = path.split('/').next().unwrap_or_default();
        if RESERVED.iter().any(|name| name.eq_ignore_ascii_case(first)) {
            return fault(format!("cannot write {path:?}: the program writes that file itself"));
        }
        let mut record = self.record();
        if record.files.iter().any(|file| file.path.eq_ignore_ascii_case(path)) {
            return fault(format!("cannot write {path:?}: this script has written it before"));
        }
        let below = |upper: &str, lower: &str| {
            lower.len() > upper.len()
                && lower.as_bytes()[upper.len()] == b'/'
                && lower[..upper.len()].eq_ignore_ascii_case(upper)
        };
        let clash = |f: &&OutputFile| below(&f.path, path) || below(path, &f.path);
        if let Some(other) = record.files.iter().find(clash) {
            let other = &other.path;
            return fault(format!(
                "cannot write {path:?}: {other:?} would be file and folder at once"
            ));
        }
        if record.files.len() >= MAX_FILES {
            return fault(format!(
                "cannot write {path:?}: a script writes at most {MAX_FILES} files"
            ));
        }
        record.files.push(OutputFile { path: path.to_owned(), content });
        Ok(())
    }
}
