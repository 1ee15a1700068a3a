//! Faces that were brought to a stand.

use dryturn_handoff::{Jam, Run};
use maud::{Markup, html};

use crate::html::figures::{figure, ms, safety};
use crate::html::table;

/// Most of them that are listed.
const LISTED: usize = 20;

/// Every face that was brought to a stand; nothing where none was.
pub(in crate::sections) fn stands(run: &Run) -> Markup {
    let mut all: Vec<&Jam> = run.pushed.iter().chain(run.jam()).collect();
    all.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    if all.is_empty() {
        return html! {};
    }
    let row = |jam: &&Jam| {
        vec![
            ms(jam.time_s),
            (jam.beat + 1).to_string(),
            format!("{} after {}°", jam.met.blocked_face, figure(jam.met.blocked_angle_deg, 1)),
            format!("{} by {}°", jam.met.late_face, figure(jam.met.late_angle_deg, 2)),
            figure(jam.met.allowed_deg, 2),
            figure(jam.peak_torque_n_m, 2),
            safety(jam.safety_factor_ratio),
            jam.verdict.words().to_owned(),
            jam.noticed_s.map_or("not noticed".to_owned(), ms),
            jam.blame.words(jam.met.late_face),
        ]
    };
    let headings = [
        "at, ms",
        "beat",
        "blocked",
        "off its stop",
        "allowed, °",
        "peak torque, N·m",
        "safety factor",
        "what became of it",
        "noticed at, ms",
        "to blame",
    ];
    // The last ones, for a jam that ended the run is the last.
    let unlisted = all.len().saturating_sub(LISTED);
    html! {
        h3 { "Faces that were brought to a stand" }
        @if unlisted > 0 {
            p { (all.len()) " in all; the last " (LISTED) " are listed." }
        }
        (table::draw("listed", &headings, all[unlisted..].iter().map(row)))
        p.aside {
            "Angles are positive clockwise. Safety factor: the strength of the blocked face's \
             shaft over the largest torque in it."
        }
    }
}
