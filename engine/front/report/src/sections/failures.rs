//! Kinds of failure in tables.

use dryturn_studies::{FailureKind, Failures};
use maud::{Markup, html};

use crate::html::figures::DASH;
use crate::html::table;

/// What the kinds that occurred mean, a table; nothing where nothing failed.
pub(crate) fn meanings(failures: &Failures) -> Markup {
    let split = failures.split();
    if split.is_empty() {
        return html! {};
    }
    let rows = split.into_iter().map(|(kind, count)| {
        vec![kind.words().to_owned(), count.to_string(), kind.sentence().to_owned()]
    });
    table::draw("listed", &["cause", "executions", "what that is"], rows)
}

/// The kinds as text for a cell: `jam 3; drive stop 1`, or a dash.
pub(crate) fn in_a_cell(failures: &Failures) -> String {
    let split = failures.split();
    if split.is_empty() {
        return DASH.to_owned();
    }
    let kind = |(kind, count): &(FailureKind, usize)| format!("{} {count}", kind.words());
    split.iter().map(kind).collect::<Vec<_>>().join("; ")
}

/// How many fail, with the kinds where any do.
pub(crate) fn count_and_kinds(failures: &Failures) -> String {
    match failures.count() {
        0 => "0".to_owned(),
        count => format!("{count}: {}", in_a_cell(failures)),
    }
}
