//! What the verbs of one script run share.

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
}

/// Most files that one script may write.
const MAX_FILES: usize = 1000;
/// Most exhibits that a report shows.
const MAX_EXHIBITS: usize = 24;
/// Names that the program itself writes.
const RESERVED: [&str; 3] = ["report.html", "ledger.jsonl", "files.txt"];

pub(crate) type Fallible<T> = Result<T, Box<EvalAltResult>>;

/// A script error with a message of our own.
pub(crate) fn fault<T>(message: impl ToString) -> Fallible<T> {
    Err(message.to_string().into())
}

pub(crate) struct Session {
    pub(crate) rehearser: Rehearser,
    pub(crate) host: Arc<dyn Host>,
    record: Mutex<Record>,
}

impl Session {
    pub(crate) fn new(seed: Seed, host: Arc<dyn Host>) -> Self {
        Self { rehearser: Rehearser::new(seed), host, record: Mutex::default() }
    }

    pub(crate) fn record(&self) -> MutexGuard<'_, Record> {
        self.record.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn into_record(&self) -> Record {
        std::mem::take(&mut *self.record())
    }

    pub(crate) fn log(&self, line: Json) {
        self.record().ledger.push(line);
    }

    pub(crate) fn show(&self, exhibit: Exhibit) {
        let mut record = self.record();
        if record.exhibits.len() < MAX_EXHIBITS {
            record.exhibits.push(exhibit);
        } else if record.exhibits.len() == MAX_EXHIBITS {
            let note = format!("The report shows the first {MAX_EXHIBITS} passes and drills only.");
            if !record.notes.contains(&note) {
                record.notes.push(note);
            }
        }
    }

    /// Puts a file into the record, to be written when the script has ended.
    pub(crate) fn save(&self, path: &str, content: Content) -> Fallible<()> {
        let allowed = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-' | '/');
        let parts_fine =
            path.split('/').all(|part| !part.is_empty() && !part.starts_with('.'));
        if path.len() > 200 || !path.chars().all(allowed) || !parts_fine {
            return fault(format!(
                "cannot write {path:?}: a file name is below the output folder, of letters, \
                 digits, '.', '_', '-' and '/', no part starting with '.'"
            ));
        }
        if RESERVED.iter().any(|name| name.eq_ignore_ascii_case(path)) {
            return fault(format!("cannot write {path:?}: the program writes that file itself"));
        }
        let mut record = self.record();
        if record.files.iter().any(|file| file.path.eq_ignore_ascii_case(path)) {
            return fault(format!("cannot write {path:?}: this script has written it before"));
        }
        if record.files.len() >= MAX_FILES {
            return fault(format!("cannot write {path:?}: a script writes at most {MAX_FILES} files"));
        }
        record.files.push(OutputFile { path: path.to_owned(), content });
        Ok(())
    }
}
