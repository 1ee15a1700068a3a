//! Logs of real axes on a page of their own.

use dryturn_record::Exhibit;

use crate::page::cautions;
use crate::{identified, overlay, shell};

/// One self-contained HTML page about logs of real axes. `what` says in words what was
/// asked for; exhibits about anything else are left out.
#[must_use]
pub fn logs_page(what: &str, exhibits: &[Exhibit]) -> String {
    let section = |exhibit: &Exhibit| match exhibit {
        Exhibit::Identified(shown) => identified::section(shown),
        Exhibit::Overlay(shown) => overlay::section(shown),
        _ => String::new(),
    };
    let sections: String = exhibits.iter().map(section).collect();
    let about = format!("{what} {}.", shell::maker());
    shell::page("Logs of real axes", &about, &(sections + &cautions()))
}
