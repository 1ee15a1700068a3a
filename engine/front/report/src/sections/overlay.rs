//! A log laid over the simulated run, as a section of the report.

use dryturn_cube::Face;
use dryturn_handoff::Run;
use dryturn_record::ShownOverlay;
use dryturn_studies::OverlayWords;
use dryturn_studies::overlay::{BeatOff, Explained, FittedFigure, MOST_FIGURES, Overlay};
use maud::{Markup, html};

use crate::charts::lanes::{self, Lane, Line};
use crate::html::figures::{DASH, figure, small_or};
use crate::html::table;
use crate::sections::cautions;

/// Height of a face's lane, px; columns of a thinned line.
const LANE: f64 = 52.0;
const COLUMNS: usize = 400;
/// Beats that are listed.
const LISTED: usize = 60;

pub(crate) fn section(shown: &ShownOverlay) -> Markup {
    let overlay = &shown.overlay;
    let words = OverlayWords::of(overlay);
    let heading = "Encoders' angles as drawn, ° (solid: logged; dashed: simulated without errors)";
    html! {
        section.overlay {
            h2 { "Log over simulated run: " (shown.title) }
            (cautions::bench_pointer())
            p { (overlay.plan.notation()) }
            // The causes stand in a table of their own.
            @for line in words.facts.iter().chain([&words.verdict]) { p { (line) } }
            @if let Some(sets) = &overlay.sets {
                (told(sets))
                (joint(sets))
            }
            (causes(overlay))
            (beats(overlay))
            (chart(overlay, &overlay.drawn, overlay.shift_s, heading))
            (fitted(overlay))
        }
    }
}

fn value(value: f64) -> String {
    small_or(value, 3)
}

fn interval(own: &FittedFigure) -> String {
    let [low, high] = own.interval;
    format!("{} to {}", value(low), value(high))
}

/// The sets that explain the log, a row for each line of them.
fn told(sets: &Explained) -> Markup {
    if sets.lines.is_empty() {
        return html! {};
    }
    let rows = sets.lines.iter().map(|line| {
        let own = line.sets(MOST_FIGURES);
        vec![sets.line_words(line), own.len().to_string(), sets.line_values(line)]
    });
    let headings = ["figures that explain it together", "sets", "the likeliest, fitted jointly"];
    let hints = if sets.told.len() > 1 { sets.hints() } else { Vec::new() };
    html! {
        h3 { "What explains it, and cannot be told apart" }
        (table::draw("listed", &headings, rows))
        @if !hints.is_empty() {
            p { "To tell them apart:" }
            ul { @for hint in &hints { li { (hint) } } }
        }
    }
}

/// All figures fitted together.
fn joint(sets: &Explained) -> Markup {
    let rows = sets.figures.iter().map(|own| {
        vec![
            format!("{} ({})", own.words, own.field),
            value(own.drawn),
            value(own.value),
            interval(own),
            if own.determined { "yes" } else { "no" }.to_owned(),
        ]
    });
    let headings = ["all figures together", "drawn", "fitted", "95 % within", "determined"];
    let tied = sets.tied();
    let pairs = tied.iter().map(|(a, b, correlation)| {
        vec![format!("{} with {}", a.words, b.words), figure(*correlation, 2)]
    });
    html! {
        h3 { "All figures fitted together" }
        (table::draw("figures", &headings, rows))
        p {
            "Each is taken for as drawn within 30 % or 2 ms (one standard deviation) beforehand; \
             where the log says no more, it is not determined. Chi-square of " (sets.measures)
            " measures: " (figure(sets.chi_square[0], 1)) " as drawn, "
            (figure(sets.chi_square[1], 1)) " as fitted."
        }
        @if !tied.is_empty() {
            p { "Only together determined:" }
            (table::draw("figures", &["pair", "correlation"], pairs))
        }
    }
}

fn causes(overlay: &Overlay) -> Markup {
    if overlay.causes.is_empty() {
        return html! {};
    }
    let rows = overlay.causes.iter().map(|cause| {
        vec![
            format!("{} ({})", cause.words, cause.field),
            value(cause.drawn),
            value(cause.value),
            figure(100.0 * cause.explained_share, 1),
            figure(overlay.rms_ms, 2),
            figure(cause.rms_ms, 2),
            if cause.as_good { "yes" } else { "no" }.to_owned(),
        ]
    });
    let headings = [
        "one figure by itself",
        "drawn",
        "explains most at",
        "explains, % of the residuals' variance",
        "before, ms",
        "after, ms",
        "as good as the best single one",
    ];
    html! {
        h3 { "What would explain it by itself" }
        (table::draw("figures", &headings, rows))
    }
}

fn beats(overlay: &Overlay) -> Markup {
    let after = overlay.fitted.as_ref().map_or(&[][..], |fitted| &fitted.beats);
    let cells = |own: &BeatOff| [own.late_ms, own.longer_ms, own.rms_deg].map(|v| figure(v, 2));
    let rows = overlay.beats.iter().enumerate().take(LISTED).map(|(k, own)| {
        let then = after.get(k).map_or_else(|| [DASH; 3].map(str::to_owned), cells);
        let first = [(own.beat + 1).to_string(), own.turns.clone()];
        first.into_iter().chain(cells(own)).chain(then).collect()
    });
    let headings = [
        "beat",
        "turns",
        "starts late by, ms",
        "takes longer by, ms",
        "angle off, rms °",
        "then: late by, ms",
        "longer by, ms",
        "angle off, rms °",
    ];
    html! {
        h3 { "Beat by beat, as drawn and with the likeliest figures" }
        (table::draw("figures", &headings, rows))
    }
}

/// The angles once more, with the likeliest figures.
fn fitted(overlay: &Overlay) -> Markup {
    let Some(fitted) = &overlay.fitted else { return html! {} };
    let change = |(field, own): &(_, f64)| format!("{field} at {}", value(*own));
    let changes: Vec<String> = fitted.changes.iter().map(change).collect();
    let heading = format!("Encoders' angles with {}, °", changes.join(", "));
    chart(overlay, &fitted.run, fitted.shift_s, &heading)
}

/// Angles of the faces that turn.
fn chart(overlay: &Overlay, run: &Run, shift_s: f64, heading: &str) -> Markup {
    let turned: Vec<Face> = Face::ALL
        .into_iter()
        .filter(|face| overlay.plan.turns().iter().any(|turn| turn.face == *face))
        .collect();
    let lane = |face: Face| {
        let k = face.index();
        let simulated: Vec<f64> = run.trace.encoders_deg.iter().map(|row| row[k]).collect();
        let at = |sample: usize| sample as f64 * run.trace.step_s;
        let logged: Vec<f64> =
            (0..simulated.len()).map(|s| overlay.logged_deg(k, at(s), shift_s)).collect();
        let both = || simulated.iter().chain(&logged);
        let low = both().fold(0.0, |low: f64, v| low.min(*v));
        let high = both().fold(0.0, |high: f64, v| high.max(*v));
        let range = ((low / 90.0).floor() * 90.0, ((high / 90.0).ceil() * 90.0).max(90.0));
        let line = |class, title: &str, values| Line { class, title: title.to_owned(), values };
        Lane {
            name: face.to_string(),
            height: LANE,
            range,
            ticks: (vec![range.0, range.1, 0.0], 90.0),
            levels: Vec::new(),
            negative_is_bad: false,
            lines: vec![line("first", "logged", logged), line("second", "simulated", simulated)],
        }
    };
    let lanes: Vec<Lane> = turned.into_iter().map(lane).collect();
    lanes::chart(run, heading, &lanes, COLUMNS)
}
