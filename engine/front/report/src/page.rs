//! The whole page.

use core::fmt::Write as _;

use dryturn_record::{Exhibit, Record, digest};
use dryturn_studies::CAUTIONS;

use crate::html::Escaped;
use crate::{
    budgets, comparison, drill, identified, overlay, pass, readers, run, sheet, shell, survey,
    sweep, tune, turning,
};

/// Passes whose pictures are embedded.
const PICTURED: usize = 6;

/// Leads from a section about what turns to the cautions.
pub(crate) const POINTER: &str =
    "<p class=\"aside\">Simulated; see the cautions at the end of the page.</p>";

/// One self-contained HTML page about a script run: no scripts, no links out.
#[must_use]
pub fn page(script: &str, seed: u64, record: &Record) -> String {
    let failed = record.failed();
    let all = record.expectations.len();
    let mut out = String::new();
    let verdict = match (failed, all) {
        (_, 0) => "The script states no expectations.".to_owned(),
        (0, 1) => "The one expectation held.".to_owned(),
        (0, _) => format!("All {all} expectations held."),
        _ => format!("{failed} of {all} expectations did not hold."),
    };
    let class = if failed == 0 { "held" } else { "failed" };
    out.push_str("<section>");
    if record.unfinished {
        out.push_str(
            "<p class=\"banner failed\">UNFINISHED: the run was ended before the script was. What \
             follows is what there was until then.</p>",
        );
    }
    let _ = write!(out, "<p class=\"banner {class}\">{verdict}</p>");
    if all > 0 {
        out.push_str(
            "<table class=\"expectations\"><thead><tr><th></th><th>line</th><th>expected</th>\
             <th>found</th></tr></thead><tbody>",
        );
        for e in &record.expectations {
            let (class, mark) =
                if e.held { ("held", "✓ held") } else { ("failed", "✗ failed") };
            let line = e.line.map_or_else(String::new, |line| line.to_string());
            let _ = write!(
                out,
                "<tr class=\"{class}\"><td>{mark}</td><td>{line}</td><td>{}</td><td>{}</td></tr>",
                Escaped(&e.message),
                Escaped(&e.figures)
            );
        }
        out.push_str("</tbody></table>");
    }
    out.push_str("</section>");
    if !record.notes.is_empty() {
        out.push_str("<section><h2>Notes of the script</h2>");
        for note in &record.notes {
            let _ = write!(out, "<pre>{}</pre>", Escaped(note));
        }
        out.push_str("</section>");
    }
    let (mut passes, mut drills, mut turnings) = (0, 0, 0);
    for exhibit in &record.exhibits {
        out.push_str(&match exhibit {
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
        });
    }
    out.push_str(&cautions());
    // A report and a ledger belong together where this is the digest of the ledger.
    let ledger = digest(record.ledger_text().as_bytes());
    let _ = write!(out, "<div hidden data-ledger-sha256=\"{ledger}\"></div>");
    let about = format!("{}, seed {seed}. Simulated, not measured.", shell::maker());
    shell::page(&format!("Rehearsal of {script}"), &about, &out)
}

/// The cautions as a section.
pub(crate) fn cautions() -> String {
    let list: String = CAUTIONS.iter().map(|caution| format!("<li>{caution}</li>")).collect();
    format!(
        "<section class=\"cautions\"><h2>Before you go near the hardware</h2><ul>{list}</ul></section>"
    )
}
