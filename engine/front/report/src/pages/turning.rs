//! Drills of the axes on a page of their own.

use dryturn_record::Exhibit;
use maud::html;

use super::shell;
use crate::sections::{cautions, run, sweep, tune, turning};

/// One self-contained HTML page about drills of the axes, or their tuning. `what` says in words what was
/// asked for; exhibits about anything but axes are left out.
#[must_use]
pub fn turning_page(title: &str, what: &str, exhibits: &[Exhibit]) -> String {
    let section = |exhibit: &Exhibit| match exhibit {
        Exhibit::Run(shown) => run::section(shown),
        Exhibit::Turning(shown) => turning::section(1, shown),
        Exhibit::Sweep(shown) => sweep::section(shown),
        Exhibit::Tuning(shown) => tune::section(shown),
        _ => html! {},
    };
    let sections = html! {
        @for shown in exhibits.iter().map(section) { (shown) }
        (cautions::section())
    };
    let about = format!("{what} {}. Simulated, not measured.", shell::maker());
    shell::page(title, &about, &sections)
}
