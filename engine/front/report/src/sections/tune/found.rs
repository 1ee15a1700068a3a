//! What tuning found: its figures beside those before, the settings, how early faces begin.

use dryturn_rehearsal::StartToStop;
use dryturn_studies::{BelowZero, Lead, Tuned, lead_kind, lead_nearness};
use maud::{Markup, html};

use crate::html::figures::{between, figure, figure_or_dash, ms, ms_or_dash};
use crate::html::table;
use crate::sections::failures;

/// `rate` is the share that may fail.
pub(super) fn found(tuned: &Tuned, rate: f64) -> Markup {
    let rows = [
        ("tuned", &tuned.drill),
        ("the scene as it was", &tuned.before),
        ("waiting, with the tuned limits", &tuned.waiting),
    ];
    let rows = rows.map(|(what, drill)| {
        let failed = drill.failures();
        let (low, high) = failed.interval();
        let time = |share: f64| drill.time_s(share).map(|(seconds, _)| seconds);
        let whole = time(0.5).map(|s| StartToStop::of(&drill.scene, s).total_s());
        vec![
            what.to_owned(),
            drill.trials().to_string(),
            failed.count().to_string(),
            failures::in_a_cell(&failed),
            between((100.0 * low, 100.0 * high), 2),
            ms_or_dash(time(0.5)),
            ms_or_dash(time(0.95)),
            ms(drill.mean_bound_s()),
            ms_or_dash(whole),
        ]
    });
    let headings = [
        "settings",
        "executions",
        "failed",
        "by cause",
        "95 % interval (Wilson), %",
        "median, ms",
        "95 % are below, ms",
        "bound, mean, ms",
        "start to stop, ms",
    ];
    let settings = tuned.settings.iter().map(|setting| {
        vec![setting.field.clone(), setting.before.clone(), setting.after.clone(), setting.says()]
    });
    let fields = ["field", "before", "tuned", "what it does to the rig"];
    html! {
        (table::draw("figures", &headings, rows))
        p {
            (figure_or_dash(tuned.gap_closed().map(|share| 100.0 * share), 0))
            " % of the way from waiting to the bound is closed, at "
            (tuned.scene.file().drive.bus_voltage_v) " V. Static safety factor "
            (figure(tuned.static_safety_ratio(), 2)) "."
            @for sentence in tuned.drill.failures().advice(&[rate, 0.5 * rate, 0.1 * rate]) {
                " " (sentence) "."
            }
        }
        (table::draw("figures", &fields, settings))
        (handovers(tuned))
    }
}

/// How early faces begin and how near they come, and what a margin below zero would buy.
fn handovers(tuned: &Tuned) -> Markup {
    let Some(leads) = tuned.leads() else { return html! {} };
    let row = |lead: &Lead| {
        vec![
            lead_kind(lead),
            figure(lead.lead_s * 1e3, 2),
            figure(lead.to_go_deg, 1),
            lead_nearness(lead),
            figure(lead.nearest_late_deg, 1),
            figure(lead.nearest_turned_deg, 1),
        ]
    };
    let headings = [
        "turns",
        "before its neighbour's stop, ms",
        "neighbour still to go, °",
        "at the closest",
        "neighbour to go there, °",
        "turned there, °",
    ];
    let sentences =
        [tuned.clearance_sentence(), tuned.below_zero.as_ref().map(BelowZero::sentence)];
    html! {
        h3 { "How early the next face begins" }
        (table::draw("figures", &headings, leads.iter().map(row)))
        @for sentence in sentences.into_iter().flatten() { p { (begun_large(&sentence)) "." } }
    }
}

fn begun_large(sentence: &str) -> String {
    let mut letters = sentence.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    first + letters.as_str()
}
