//! Ways to read, compared: a table, how far probabilities can be trusted, and what was
//! taken for what.

mod trust;

use std::sync::Arc;

use dryturn_scene::Scene;
use dryturn_studies::{ReaderTable, ReaderTally, Way};
use maud::{Markup, html};

use crate::html::figures::in_percent;
use crate::html::table;
use crate::sections::confusion;
use crate::sections::names::way_name;

pub(crate) fn section((title, tables): &(String, Vec<Arc<ReaderTable>>)) -> Markup {
    let scans: usize = tables.iter().map(|table| table.scans).sum();
    let mut ways: Vec<&Way> = Vec::new();
    for tally in tables.iter().flat_map(|table| &table.readers) {
        if !ways.contains(&&tally.way) {
            ways.push(&tally.way);
        }
    }
    let of = |way: &Way| {
        let own = tables.iter().flat_map(|t| t.readers.iter().find(|r| r.way == *way));
        ReaderTally::sum(own)
    };
    html! {
        section {
            h2 { (title) }
            p { (scans) " scans." }
            (compared(tables))
            @for sum in ways.into_iter().filter_map(of) {
                @if !sum.claims.is_empty() { (trust::claims(&sum)) }
                (confused(&tables[0].read_in, &sum))
            }
        }
    }
}

fn compared(tables: &[Arc<ReaderTable>]) -> Markup {
    let headings = [
        "scans",
        "way to read",
        "facelets right",
        "cubes right",
        "refused",
        "wrong",
        "wrong at most",
    ];
    let rows = html! {
        @for table in tables {
            @for (k, tally) in table.readers.iter().enumerate() {
                tr {
                    @if k == 0 {
                        th rowspan=(table.readers.len()) {
                            (table.name) br; (table.scans) " scans"
                        }
                    }
                    (cells(table, tally))
                }
            }
        }
    };
    html! {
        (table::laid_out("readers", table::row_of(&headings), rows))
        p.aside {
            "Facelets: those that a camera sees. Wrong at most: exact one-sided 95 % bound of the \
             share of wrong cubes among those that were read."
        }
        (faults(tables))
        (scenes(tables))
    }
}

/// Where a guest could not go on, and its last words.
fn faults(tables: &[Arc<ReaderTable>]) -> Markup {
    let faulty = tables.iter().filter_map(|table| {
        let guest = table.guest.as_ref()?;
        Some((table, guest.faults, guest.first_fault.as_ref()?))
    });
    html! {
        @for (table, faults, first) in faulty {
            p {
                (table.name) ": a guest could not go on in " (faults) " of " (table.scans)
                " scans, which count as refused; in the first, " (first) "."
            }
            @if !first.fault.stderr.is_empty() { pre { (first.fault.stderr.join("\n")) } }
        }
    }
}

fn cells(table: &ReaderTable, tally: &ReaderTally) -> Markup {
    // With a space at which no line breaks.
    let percent = |value: f64, decimals: usize| format!("{value:.decimals$}\u{a0}%");
    let of_scans = |count: usize| percent(in_percent(count, table.scans), 1);
    let bound = match tally.believed() {
        0 => "none read".to_owned(),
        _ => format!("{:.3} %", 100.0 * tally.wrong_at_most().1),
    };
    html! {
        td { (way_name(&tally.way)) }
        td { (percent(in_percent(tally.counts.facelets_right, tally.counts.facelets), 2)) }
        td { (of_scans(tally.counts.right)) }
        td { (of_scans(tally.counts.refused)) }
        td { (tally.counts.wrong) }
        td { (bound) }
    }
}

/// Which scenes were read in; nothing where all are one, changed by the script: its name says
/// nothing.
fn scenes(tables: &[Arc<ReaderTable>]) -> Markup {
    let names = |table: &Arc<ReaderTable>| {
        [&table.calibrated_in, &table.read_in].map(|scene| scene.file().name.clone())
    };
    let first = names(&tables[0])[0].clone();
    if tables.iter().flat_map(names).all(|name| name == first) {
        return html! {};
    }
    html! {
        ul.aside {
            @for table in tables {
                @let [calibrated, read] = names(table);
                li {
                    (table.name) ": calibrated in " i { (calibrated) } ", read in " i { (read) }
                }
            }
        }
    }
}

/// What was taken for what, where anything was.
fn confused(scene: &Scene, sum: &ReaderTally) -> Markup {
    let wrong = sum.counts.facelets - sum.counts.facelets_right;
    let name = way_name(&sum.way);
    if wrong == 0 {
        return html! {
            p { (name) ": no facelet of " (sum.counts.facelets) " was taken for another." }
        };
    }
    html! {
        details {
            summary {
                (name) ": " (wrong) " of " (sum.counts.facelets) " facelets taken for another colour"
            }
            (confusion::matrix(scene, &sum.confusion, |count| count.to_string()))
        }
    }
}
