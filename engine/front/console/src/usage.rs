//! A wrong call in one line.

use clap::error::{Error, ErrorKind};

/// What is wrong with a call, in one line; `None` where help or the version was
/// asked for, which is no error.
#[must_use]
pub fn usage_line(error: &Error) -> Option<String> {
    if matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion) {
        return None;
    }
    let text = error.to_string();
    let until_usage = text.split("\n\nUsage:").next().unwrap_or_default();
    let until_more = until_usage.split("\n\nFor more").next().unwrap_or_default();
    let words = until_more.split_whitespace().collect::<Vec<_>>().join(" ");
    let words = words.strip_prefix("error: ").unwrap_or(&words);
    Some(format!("{words}; see --help"))
}
