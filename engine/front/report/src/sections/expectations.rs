//! What a script expected and whether it held, and what it noted.

use dryturn_record::Record;
use maud::{Markup, html};

use crate::html::table;

pub(crate) fn section(record: &Record) -> Markup {
    let failed = record.failed();
    let all = record.expectations.len();
    let verdict = match (failed, all) {
        (_, 0) => "The script states no expectations.".to_owned(),
        (0, 1) => "The one expectation held.".to_owned(),
        (0, _) => format!("All {all} expectations held."),
        _ => format!("{failed} of {all} expectations did not hold."),
    };
    let class = if failed == 0 { "held" } else { "failed" };
    html! {
        section {
            @if record.unfinished {
                p class="banner failed" {
                    "UNFINISHED: the run was ended before the script was. What follows is what \
                     there was until then."
                }
            }
            p class={ "banner " (class) } { (verdict) }
            @if all > 0 { (expectations(record)) }
        }
        @if !record.notes.is_empty() {
            section {
                h2 { "Notes of the script" }
                @for note in &record.notes { pre { (note) } }
            }
        }
    }
}

fn expectations(record: &Record) -> Markup {
    let rows = html! {
        @for e in &record.expectations {
            @let (class, mark) = if e.held { ("held", "✓ held") } else { ("failed", "✗ failed") };
            tr class=(class) {
                td { (mark) }
                td { @if let Some(line) = e.line { (line) } }
                td { (e.message) }
                td { (e.figures) }
            }
        }
    };
    table::laid_out("expectations", table::row_of(&["", "line", "expected", "found"]), rows)
}
