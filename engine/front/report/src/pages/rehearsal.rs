//! The page about a script run.

use dryturn_record::{Exhibit, Record, digest};
use maud::{Markup, html};

use super::shell;
use crate::sections::{
    budgets, cautions, comparison, drill, expectations, identified, overlay, pass, readers, run,
    sheet, survey, sweep, tune, turning,
};

/// Passes whose pictures are embedded.
const PICTURED: usize = 6;

/// One self-contained HTML page about a script run: no scripts, no links out.
#[must_use]
pub fn page(script: &str, seed: u64, record: &Record) -> String {
    // A report and a ledger belong together where this is the digest of the ledger.
    let ledger = digest(record.ledger_text().as_bytes());
    let sections = html! {
        (expectations::section(record))
        (exhibits(record))
        (cautions::section())
        div hidden data-ledger-sha256=(ledger) {}
    };
    let about = format!("{}, seed {seed}. Simulated, not measured.", shell::maker());
    shell::page(&format!("Rehearsal of {script}"), &about, &sections)
}

fn exhibits(record: &Record) -> Markup {
    let (mut passes, mut drills, mut turnings) = (0, 0, 0);
    let section = |exhibit: &Exhibit| match exhibit {
        Exhibit::Pass(shown) => {
            passes += 1;
            pass::section(passes, shown, passes <= PICTURED)
        }
        Exhibit::Drill(shown) => {
            drills += 1;
            drill::section(drills, shown)
        }
        Exhibit::Survey(shown) => survey::section(shown),
        Exhibit::Readers(shown) => readers::section(shown),
        Exhibit::Sheet(shown) => sheet::section(&shown.0, &shown.1),
        Exhibit::Run(shown) => run::section(shown),
        Exhibit::Turning(shown) => {
            turnings += 1;
            turning::section(turnings, shown)
        }
        Exhibit::Sweep(shown) => sweep::section(shown),
        Exhibit::Tuning(shown) => tune::section(shown),
        Exhibit::Budgets(shown) => budgets::section(shown),
        Exhibit::Comparison(shown) => comparison::section(shown),
        Exhibit::Identified(shown) => identified::section(shown),
        Exhibit::Overlay(shown) => overlay::section(shown),
    };
    html! { @for shown in record.exhibits.iter().map(section) { (shown) } }
}
