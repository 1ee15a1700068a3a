//! How far apart each pair of colours is: a matrix whose one half knows the place and whose
//! other half does not, then all figures.

use dryturn_cube::Face;
use dryturn_studies::{Apart, Margins, Surveyed, percent_text, range_text, sigmas_text};
use maud::{Markup, html};

use crate::html::table;

/// Below this many standard deviations two colours are called close.
const CLOSE_SIGMAS: f64 = 5.0;

/// The part of a survey about margins.
pub(super) fn section(survey: &Surveyed) -> Markup {
    let Some(margins) = &survey.margins else { return html! {} };
    html! {
        h3 { "Margins of pairs of colours" }
        (matrix(survey, margins))
        p.aside {
            "Standard deviations between two colours at the place where they are closest, and \
             below it the share of their sightings that are taken for each other. Upper right: for \
             who knows how all colours look at that place. Lower left: for who takes the nearest \
             colour by summed RGB difference and knows colours from elsewhere only; below 0 one is \
             taken for the other more often than not. Two colours that are 2 z apart are taken for \
             each other as often as a normal draw is above z."
        }
        (expected(margins))
        details {
            summary { "All figures" }
            (figures(survey, margins))
        }
    }
}

fn cell(apart: &Apart) -> Markup {
    let close = (apart.worst_sigmas < CLOSE_SIGMAS).then_some("close");
    html! {
        td class=[close] title=(apart.worst.to_string()) {
            (sigmas_text(apart.worst_sigmas)) br; small { (percent_text(apart.mistaken_share)) }
        }
    }
}

fn matrix(survey: &Surveyed, margins: &Margins) -> Markup {
    let names = Face::ALL.map(|face| survey.colour_name(face));
    let at = |row: usize, column: usize| match margins
        .pair(Face::from_index(row), Face::from_index(column))
    {
        Some(pair) if column > row => cell(&pair.known),
        Some(pair) => cell(&pair.unknown),
        None => html! { td.same { "·" } },
    };
    let head = html! {
        tr {
            th { "σ" }
            @for name in &names { th scope="col" { (name) } }
        }
    };
    let rows = html! {
        @for (row, name) in names.iter().enumerate() {
            tr {
                th scope="row" { (name) }
                @for column in 0..names.len() { (at(row, column)) }
            }
        }
    };
    table::laid_out("pair-margins", head, rows)
}

fn expected(margins: &Margins) -> Markup {
    let rows = margins.expected.iter().map(|expected| {
        vec![
            format!("{:?}", expected.method),
            percent_text(expected.wrong_share),
            range_text(expected.range),
        ]
    });
    let headings = ["way to read", "taken for another colour", "in 95 of 100 rigs"];
    html! {
        p {
            "What a calibration on six mountings of the solved cube is to find when it leaves each \
             of " (margins.sightings) " sightings out in turn:"
        }
        (table::draw("figures", &headings, rows))
        p.aside {
            "Gaussian classes know the place by its other colours; the other ways are judged \
             without the place."
        }
    }
}

fn figures(survey: &Surveyed, margins: &Margins) -> Markup {
    let head = html! {
        tr {
            th rowspan="2" { "colours" }
            th colspan="4" { "place known" }
            th colspan="4" { "place unknown" }
        }
        tr {
            @for _ in 0..2 {
                th { "worst σ" }
                th { "at" }
                th { "median σ" }
                th { "mistaken" }
            }
        }
    };
    let rows = html! {
        @for margin in margins.closest_first() {
            tr {
                td { (survey.pair_name(margin.pair)) }
                @for apart in [&margin.known, &margin.unknown] {
                    td { (sigmas_text(apart.worst_sigmas)) }
                    td { (apart.worst.to_string()) }
                    td { (sigmas_text(apart.median_sigmas)) }
                    td { (percent_text(apart.mistaken_share)) }
                }
            }
        }
    };
    table::laid_out("survey", head, rows)
}
