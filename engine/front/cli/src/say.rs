//! Writing to the terminal. A reader that has gone away is no error.

use std::io::Write as _;

use serde_json::Value as Json;

/// A result, to stdout.
pub(crate) fn result(text: &str) {
    let _ = writeln!(std::io::stdout().lock(), "{text}");
}

/// The one JSON document of a command, to stdout.
pub(crate) fn document(json: &Json) {
    result(&format!("{json:#}"));
}

/// A message, to stderr.
pub(crate) fn message(text: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{text}");
}
