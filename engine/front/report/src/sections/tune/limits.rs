//! What keeps tuned settings from being faster, and each field moved a little.

use dryturn_studies::{Nudge, TuneLimit, Tuned};
use maud::{Markup, html};

use crate::html::figures::{DASH, ms_or_dash};
use crate::html::table;
use crate::sections::failures::count_and_kinds;

pub(super) fn limits(tuned: &Tuned) -> Markup {
    let nudge = |nudge: Option<&Nudge>| match nudge {
        None => [DASH; 3].map(str::to_owned),
        Some(nudge) => {
            [nudge.value.clone(), ms_or_dash(nudge.faster_s), count_and_kinds(&nudge.failures)]
        }
    };
    let row = |limit: &TuneLimit| {
        let mut row = vec![limit.field.clone()];
        row.extend(nudge(limit.nudges[0].as_ref()));
        row.extend([limit.value.clone(), count_and_kinds(&limit.failures)]);
        row.extend(nudge(limit.nudges[1].as_ref()));
        row
    };
    let headings = [
        "field",
        "less",
        "faster by, ms",
        "fail",
        "tuned",
        "fail",
        "more",
        "faster by, ms",
        "fail",
    ];
    let says = tuned.what_limits();
    html! {
        @if !says.is_empty() {
            h3 { "What keeps it from being faster" }
            p { "What binds first comes first; were it lifted, the next would." }
            ol { @for sentence in &says { li { (sentence) } } }
        }
        @if let Some(cause) = tuned.drill.first_cause() {
            p { "In the proof, first of all: " (cause) "." }
        }
        @if let Some(limit) = tuned.limits.first() {
            p {
                "Each field moved a little to either side, " (limit.failures.trials())
                " executions each, with the same luck."
            }
        }
        (table::draw("figures", &headings, tuned.limits.iter().map(row)))
    }
}
