//! Where the time from the start button goes.

use dryturn_rehearsal::StartToStop;
use maud::{Markup, html};

use crate::charts::stacked;
use crate::html::figures::{figure, ms};
use crate::html::table;

/// In full with a bar of six parts and a table.
pub(super) fn section(budget: &StartToStop, completed: bool, in_full: bool) -> Markup {
    let until = if completed { "" } else { " until the execution was broken off" };
    html! {
        h3 { "From the start button to the last stop" }
        p {
            (ms(budget.total_s())) " ms" (until)
            ". All but the execution is modelled from the scene's figures."
        }
        @if in_full { (parts(budget)) }
    }
}

fn parts(budget: &StartToStop) -> Markup {
    let (parts, total_s) = (budget.parts(), budget.total_s());
    let names = parts.map(|(name, seconds)| format!("{name} {} ms", ms(seconds)));
    let row = (String::new(), parts.map(|(_, seconds)| seconds * 1e3).to_vec());
    let title = "From the start button to the last stop";
    let share = |seconds: f64| figure(100.0 * seconds / total_s, 1);
    let rows = parts.into_iter().chain([("whole", total_s)]);
    let rows = rows.map(|(name, seconds)| vec![name.to_owned(), ms(seconds), share(seconds)]);
    html! {
        (stacked::draw(title, "time from the start button, ms", &names, &[row], &[]))
        (table::draw("figures", &["part", "ms", "% of the whole"], rows))
    }
}
