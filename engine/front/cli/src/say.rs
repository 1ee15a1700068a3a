//! Writing to the terminal. A reader that has gone away is no error.

use std::io::{ErrorKind, IsTerminal as _, Write as _};

use indicatif::ProgressBar;
use serde::Serialize;

use crate::failure::Failure;

/// Shows control characters, which would steer the terminal, as text.
fn tame(text: &str, keep_lines: bool) -> String {
    let tame = |c: char| match c {
        '\n' | '\t' if keep_lines => c.to_string(),
        c if c.is_control() => c.escape_default().to_string(),
        c => c.to_string(),
    };
    text.chars().map(tame).collect()
}

/// A result, to stdout.
pub(crate) fn result(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match writeln!(out, "{}", tame(text, true)).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(Failure::input(format!("the result cannot be written to stdout: {error}")))
        }
        _ => Ok(()),
    }
}

/// The one JSON document of a command, to stdout.
pub(crate) fn document(document: &impl Serialize) -> Result<(), Failure> {
    result(&format!("{:#}", dryturn_record::json(document)))
}

/// A message of one line, to stderr.
pub(crate) fn message(text: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{}", tame(text, false));
}

/// Why there is no result, to stderr: a line for each fault.
pub(crate) fn failure(failure: &Failure) {
    failure.messages().iter().for_each(|text| message(&format!("dryturn: {text}")));
}

/// Text of several lines, to stderr.
pub(crate) fn aside(text: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{}", tame(text, true));
}

/// A progress bar on stderr where somebody sees it, else a hidden one.
pub(crate) fn bar(bar: ProgressBar) -> ProgressBar {
    if std::io::stderr().is_terminal() { bar } else { ProgressBar::hidden() }
}
