//! What the verbs of one script run share.

mod budget;
mod host;
pub(crate) mod limits;

use std::any::Any;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::Duration;

use dryturn_handoff::{Content, GuestRole, MapValues, OutputFile};
use dryturn_record::ledger::Line;
use dryturn_record::{Exhibit, Record};
use dryturn_rehearsal::Rehearser;
use dryturn_units::noise::Seed;
use rhai::{EvalAltResult, NativeCallContext};

pub(crate) use self::budget::End;
use self::budget::{Budget, locked};
pub use self::host::Host;
use self::limits::size;

/// Most files that one script may write.
const MAX_FILES: usize = 1000;
/// Most exhibits that a report shows.
const MAX_EXHIBITS: usize = 24;
/// Most scans that one script may take by itself; drills do not count.
const MAX_SCANS: usize = 1000;
/// Most bytes of notes and expectations together.
const MAX_TEXT_BYTES: usize = 4 << 20;
/// Most bytes of all files together, pictures before they are packed.
pub(crate) const MAX_FILE_BYTES: usize = 1_000_000_000;
/// Names that the program itself writes.
const RESERVED: [&str; 2] = ["report.html", "ledger.jsonl"];

pub(crate) type Fallible<T> = Result<T, Box<EvalAltResult>>;

/// A script error with a message of our own.
pub(crate) fn fault<T>(message: impl ToString) -> Fallible<T> {
    Err(message.to_string().into())
}

/// Bytes of a file's content, a picture's before it is packed.
fn bytes_of(content: &Content) -> usize {
    match content {
        Content::Text(text) => text.len(),
        Content::Frame(frame) => frame.pixels.len(),
        Content::Map(map) => match &map.values {
            MapValues::Codes(codes) => codes.len(),
            MapValues::DepthTenthsMm(depth) => 2 * depth.len(),
        },
    }
}

/// What the person who starts a script gives it: texts by name.
pub type Settings = BTreeMap<String, String>;

pub(crate) struct Session {
    pub(crate) rehearser: Rehearser,
    settings: Settings,
    asked: Mutex<BTreeSet<String>>,
    /// Guests that have sat in a seat, and how long they took for their answers.
    seated: Mutex<BTreeMap<GuestRole, Duration>>,
    pub(crate) host: Arc<dyn Host>,
    record: Mutex<Record>,
    scans: AtomicUsize,
    text_bytes: AtomicUsize,
    file_bytes: AtomicUsize,
    pub(crate) budget: Arc<Budget>,
}

impl Session {
    pub(crate) fn new(seed: Seed, settings: Settings, host: Arc<dyn Host>) -> Self {
        Self {
            rehearser: Rehearser::new(seed),
            settings,
            asked: Mutex::default(),
            seated: Mutex::default(),
            budget: Arc::new(Budget::new(host.clone())),
            host,
            record: Mutex::default(),
            scans: AtomicUsize::new(0),
            text_bytes: AtomicUsize::new(0),
            file_bytes: AtomicUsize::new(0),
        }
    }

    /// What was given for a name; the script has asked for it.
    pub(crate) fn setting(&self, name: &str) -> Option<&str> {
        locked(&self.asked).insert(name.to_owned());
        self.settings.get(name).map(String::as_str)
    }

    /// Settings that the script never asked for.
    pub(crate) fn unused_settings(&self) -> Vec<String> {
        let asked = locked(&self.asked);
        self.settings.keys().filter(|name| !asked.contains(*name)).cloned().collect()
    }

    /// Guests have sat in seats, and have taken so long for their answers.
    pub(crate) fn seated(&self, thought: &BTreeMap<GuestRole, Duration>) {
        let mut seated = locked(&self.seated);
        thought.iter().for_each(|(role, own)| *seated.entry(*role).or_default() += *own);
    }

    /// Guests that were named for the run and have sat in no seat; and how long the others took.
    pub(crate) fn unseated(&self) -> (Vec<GuestRole>, BTreeMap<GuestRole, Duration>) {
        let (named, seated) = (self.host.invited().named, locked(&self.seated));
        let unseated = named.into_keys().filter(|role| !seated.contains_key(role)).collect();
        (unseated, seated.clone())
    }

    pub(crate) fn record(&self) -> MutexGuard<'_, Record> {
        locked(&self.record)
    }

    pub(crate) fn take_record(&self) -> Record {
        std::mem::take(&mut *self.record())
    }

    pub(crate) fn log(&self, line: Line) {
        let mut record = self.record();
        record.ledger.push(line);
        let stages = record.ledger.len();
        drop(record);
        self.host.progress("stages", stages, 0);
    }

    /// Tells the host how much of a long work is done.
    pub(crate) fn watched(
        &self,
        what: &'static str,
        all: usize,
    ) -> impl Fn(usize) -> ControlFlow<()> + Sync {
        move |done| {
            // Whether to go on is asked by the stages.
            self.host.progress(what, done, all);
            ControlFlow::Continue(())
        }
    }

    /// A verb begins that may take long; `trial` where it is about one rig.
    pub(crate) fn begin(&self, context: &NativeCallContext, trial: Option<u64>) {
        let line = context.call_position().line();
        self.budget.begins(context.fn_name(), line, trial);
    }

    /// What a verb has made, for the script to hold.
    pub(crate) fn made<T: Any + Send + Sync>(&self, value: T) -> Arc<T> {
        let value = Arc::new(value);
        self.budget.holds(&value);
        value
    }

    /// The same of a value that was made on another one, a rig, which keeps what its cameras see;
    /// `own` bytes are the value's.
    pub(crate) fn made_on<T, On>(&self, on: &Arc<On>, value: T, own: usize) -> Arc<T>
    where
        T: Any + Send + Sync,
        On: Any + Send + Sync,
    {
        let value = Arc::new(value);
        self.budget.holds_on(&value, own, on);
        value
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
        let bytes = bytes_of(&content);
        if self.file_bytes.fetch_add(bytes, Ordering::Relaxed) + bytes > MAX_FILE_BYTES {
            return fault(format!(
                "cannot write {path:?}: the files of a script hold at most {}",
                size(MAX_FILE_BYTES)
            ));
        }
        if record.files.len() >= MAX_FILES {
            return fault(format!(
                "cannot write {path:?}: a script writes at most {MAX_FILES} files"
            ));
        }
        record.files.push(OutputFile { path: path.to_owned(), content });
        drop(record);
        self.budget.keeps();
        Ok(())
    }
}
