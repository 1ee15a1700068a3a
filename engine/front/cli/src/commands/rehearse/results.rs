//! What came of scripts, for a person and as the document.

use std::path::{Path, PathBuf};

use dryturn_record::Record;
use dryturn_record::documents::{Document, RehearseDocument, ScriptResult};
use dryturn_record::ledger::ExpectLine;

use super::OWN_FILES;
use crate::commands::issued;
use crate::failure::Failure;
use crate::shared::Shared;
use crate::{say, stop};

/// What is known of the scripts so far, as the document has it.
pub(super) struct Results<'a> {
    shared: &'a Shared,
    scripts: Vec<ScriptResult>,
    worst: u8,
    pub(super) finished: usize,
    error: Option<String>,
}

impl<'a> Results<'a> {
    pub(super) fn new(scripts: &[PathBuf], shared: &'a Shared) -> Self {
        let waiting = |script: &PathBuf| ScriptResult::waiting(script.display().to_string());
        let scripts = scripts.iter().map(waiting).collect();
        Self { shared, scripts, worst: 0, finished: 0, error: None }
    }

    pub(super) fn put(&mut self, place: usize, result: ScriptResult) {
        let code = u8::from(result.failed.is_some_and(|failed| failed > 0));
        self.scripts[place] = result;
        self.worst = self.worst.max(code);
        stop::done_so_far(self.document());
    }

    pub(super) fn fail(&mut self, place: usize, failure: &Failure) {
        say::failure(failure);
        let waiting = ScriptResult::waiting(self.scripts[place].script.clone());
        let result = ScriptResult { not_run: false, error: Some(failure.to_string()), ..waiting };
        self.worst = self.worst.max(failure.exit_code());
        self.put(place, result);
    }

    /// What is wrong with all of it.
    pub(super) fn end_by(&mut self, failure: &Failure) {
        say::failure(failure);
        self.worst = self.worst.max(failure.exit_code());
        self.error = Some(failure.to_string());
    }

    fn document(&self) -> RehearseDocument {
        RehearseDocument {
            seed: self.shared.seed.value(),
            exit_code: self.worst,
            scripts: self.scripts.clone(),
            error: self.error.clone(),
        }
    }

    pub(super) fn end(self) -> Result<u8, Failure> {
        if self.shared.json {
            say::document(&issued(Document::Rehearse(self.document())))?;
        }
        Ok(self.worst)
    }
}

pub(super) fn tell(result: &ScriptResult, folder: &Path, shared: &Shared) -> Result<(), Failure> {
    let script = &result.script;
    let mut lines = result.notes.clone().unwrap_or_default();
    let expectations = result.expectations.as_deref().unwrap_or_default();
    for e in expectations {
        let mark = if e.held { "held  " } else { "FAILED" };
        let line = e.line.map_or_else(String::new, |line| format!(":{line}"));
        lines.push(format!("{mark} {script}{line}: {} ({})", e.message, e.figures));
    }
    let (all, failed) = (expectations.len(), result.failed.unwrap_or_default());
    let unfinished = if result.unfinished { "UNFINISHED; until then " } else { "" };
    lines.push(format!(
        "{script}: {unfinished}{} of {all} expectations held; see {}",
        all - failed,
        folder.join("report.html").display()
    ));
    let text = lines.join("\n");
    if shared.json {
        say::aside(&text);
        Ok(())
    } else {
        say::result(&text)
    }
}

pub(super) fn describe(script: &Path, folder: &Path, record: &Record) -> ScriptResult {
    let files = record.files.iter().map(|file| file.path.as_str()).chain(OWN_FILES);
    ScriptResult {
        not_run: false,
        out: Some(folder.display().to_string()),
        expectations: Some(record.expectations.iter().map(ExpectLine::of).collect()),
        failed: Some(record.failed()),
        notes: Some(record.notes.clone()),
        files: Some(files.map(str::to_owned).collect()),
        unfinished: record.unfinished,
        ..ScriptResult::waiting(script.display().to_string())
    }
}
