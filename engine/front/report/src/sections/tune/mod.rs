//! Tuning as a section of the report: what was found, the race as a picture, what limits.

mod found;
mod frontier;
mod limits;

use dryturn_studies::{NotTuned, Round, Tuning};
use maud::{Markup, html};

use crate::html::figures::figure_or_dash;
use crate::html::table;
use crate::sections::{cautions, failures};

pub(crate) fn section(tuning: &Tuning) -> Markup {
    let request = &tuning.request;
    html! {
        section.tune {
            h2 { "Tuning of " (request.scene.file().name) }
            (cautions::pointer())
            p {
                "Wanted: fewer than " (100.0 * request.target.jam_rate) " % of executions fail at \
                 95 % confidence, and the weakest shaft is " (request.target.static_safety_ratio)
                " times as strong as the torque limit. Settings raced on trials whose luck they \
                 share; the fastest that kept the target in " (request.proof) " other trials on \
                 other cubes was taken, and the figures below are of as many trials more, which \
                 nothing was chosen by."
            }
            @match &tuning.found {
                Ok(tuned) => (found::found(tuned, request.target.jam_rate)),
                Err(why) => (not_found(why)),
            }
            (frontier::frontier(tuning))
            @if let Ok(tuned) = &tuning.found { (limits::limits(tuned)) }
            (rounds(tuning))
        }
    }
}

fn not_found(why: &NotTuned) -> Markup {
    html! {
        p { strong { "No settings: " (why.to_string()) "." } }
        @if let NotTuned::NoneKeeps { drill, .. } = why { (failures::meanings(&drill.failures())) }
    }
}

fn rounds(tuning: &Tuning) -> Markup {
    let row = |round: &Round| {
        vec![
            round.trials.to_string(),
            round.began.to_string(),
            round.failing.to_string(),
            round.slower.to_string(),
            round.beyond.to_string(),
            round.stayed.to_string(),
            figure_or_dash(round.best_ms, 1),
        ]
    };
    let headings = [
        "trials each",
        "settings",
        "out: fail too often",
        "out: slower",
        "out: no place",
        "left",
        "median of the best, ms",
    ];
    html! {
        h3 { "The race" }
        (table::draw("figures", &headings, tuning.rounds.iter().map(row)))
    }
}
