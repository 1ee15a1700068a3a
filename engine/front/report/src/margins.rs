//! How far apart each pair of colours is: a matrix whose one half knows the place and whose
//! other half does not, then all figures.

use core::fmt::Write as _;

use dryturn_cube::Face;
use dryturn_studies::{Apart, Margins, Surveyed, percent_text, range_text, sigmas_text};

use crate::html::Escaped;

/// Below this many standard deviations two colours are called close.
const CLOSE_SIGMAS: f64 = 5.0;

/// The part of a survey about margins.
pub(crate) fn section(out: &mut String, survey: &Surveyed) {
    let Some(margins) = &survey.margins else { return };
    out.push_str("<h3>Margins of pairs of colours</h3>");
    matrix(out, survey, margins);
    out.push_str(
        "<p class=\"aside\">Standard deviations between two colours at the place where they are \
         closest, and below it the share of their sightings that are taken for each other. Upper \
         right: for who knows how all colours look at that place. Lower left: for who takes the \
         nearest colour by summed RGB difference and knows colours from elsewhere only; below 0 \
         one is taken for the other more often than not. Two colours that are 2 z apart are taken \
         for each other as often as a normal draw is above z.</p>",
    );
    expected(out, margins);
    out.push_str("<details><summary>All figures</summary>");
    figures(out, survey, margins);
    out.push_str("</details>");
}

fn cell(out: &mut String, apart: &Apart) {
    let class = if apart.worst_sigmas < CLOSE_SIGMAS { " class=\"close\"" } else { "" };
    let _ = write!(
        out,
        "<td{class} title=\"{}\">{}<br><small>{}</small></td>",
        apart.worst,
        sigmas_text(apart.worst_sigmas),
        percent_text(apart.mistaken_share)
    );
}

fn matrix(out: &mut String, survey: &Surveyed, margins: &Margins) {
    let names = Face::ALL.map(|face| survey.colour_name(face));
    out.push_str("<table class=\"pair-margins\"><thead><tr><th>σ</th>");
    for name in &names {
        let _ = write!(out, "<th scope=\"col\">{}</th>", Escaped(name));
    }
    out.push_str("</tr></thead><tbody>");
    for (row, name) in names.iter().enumerate() {
        let _ = write!(out, "<tr><th scope=\"row\">{}</th>", Escaped(name));
        for column in 0..names.len() {
            let pair = margins.pair(Face::from_index(row), Face::from_index(column));
            match pair {
                Some(pair) if column > row => cell(out, &pair.known),
                Some(pair) => cell(out, &pair.unknown),
                None => out.push_str("<td class=\"same\">·</td>"),
            }
        }
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table>");
}

fn expected(out: &mut String, margins: &Margins) {
    let _ = write!(
        out,
        "<p>What a calibration on six mountings of the solved cube is to find when it leaves each of \
         {} sightings out in turn:</p><table class=\"figures\"><thead><tr>\
         <th>way to read</th><th>taken for another colour</th><th>in 95 of 100 rigs</th></tr>\
         </thead><tbody>",
        margins.sightings
    );
    for expected in &margins.expected {
        let _ = write!(
            out,
            "<tr><td>{:?}</td><td>{}</td><td>{}</td></tr>",
            expected.method,
            percent_text(expected.wrong_share),
            range_text(expected.range)
        );
    }
    out.push_str(
        "</tbody></table><p class=\"aside\">Gaussian classes know the place by its other \
         colours; the other ways are judged without the place.</p>",
    );
}

fn figures(out: &mut String, survey: &Surveyed, margins: &Margins) {
    out.push_str(
        "<table class=\"survey\"><thead><tr><th rowspan=\"2\">colours</th>\
         <th colspan=\"4\">place known</th><th colspan=\"4\">place unknown</th></tr><tr>",
    );
    for _ in 0..2 {
        out.push_str("<th>worst σ</th><th>at</th><th>median σ</th><th>mistaken</th>");
    }
    out.push_str("</tr></thead><tbody>");
    for margin in margins.closest_first() {
        let _ = write!(out, "<tr><td>{}</td>", Escaped(survey.pair_name(margin.pair)));
        for apart in [&margin.known, &margin.unknown] {
            let _ = write!(
                out,
                "<td>{}</td><td>{}</td><td>{}</td><td>{}</td>",
                sigmas_text(apart.worst_sigmas),
                apart.worst,
                sigmas_text(apart.median_sigmas),
                percent_text(apart.mistaken_share)
            );
        }
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table>");
}
