//! Logs of real axes on a page of their own.

use dryturn_record::Exhibit;
use maud::html;

use super::shell;
use crate::sections::{cautions, identified, overlay};

/// One self-contained HTML page about logs of real axes. `what` says in words what was
/// asked for; exhibits about anything else are left out.
#[must_use]
pub fn logs_page(what: &str, exhibits: &[Exhibit]) -> String {
    let section = |exhibit: &Exhibit| match exhibit {
        Exhibit::Identified(shown) => identified::section(shown),
        Exhibit::Overlay(shown) => overlay::section(shown),
        _ => html! {},
    };
    let sections = html! {
        @for shown in exhibits.iter().map(section) { (shown) }
        (cautions::section())
    };
    let about = format!("{what} {}.", shell::maker());
    shell::page("Logs of real axes", &about, &sections)
}
