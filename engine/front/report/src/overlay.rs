//! A log laid over the simulated run, as a section of the report.

use core::fmt::Write as _;

use dryturn_cube::Face;
use dryturn_handoff::Run;
use dryturn_rehearsal::overlay::{BeatOff, Overlay};
use dryturn_rehearsal::{OverlayWords, ShownOverlay};

use crate::html::{Escaped, figure};
use crate::identified::POINTER;
use crate::lanes::{self, Lane, Line};
use crate::table;

/// Height of a face's lane, px; columns of a thinned line.
const LANE: f64 = 52.0;
const COLUMNS: usize = 400;
/// Beats that are listed.
const LISTED: usize = 60;

pub(crate) fn section(shown: &ShownOverlay) -> String {
    let overlay = &shown.overlay;
    let mut out = format!(
        "<section class=\"overlay\"><h2>Log over simulated run: {}</h2>{POINTER}<p>{}</p>",
        Escaped(&shown.title),
        Escaped(overlay.plan.notation())
    );
    let words = OverlayWords::of(overlay);
    // The causes stand in a table of their own.
    for line in words.facts.iter().chain([&words.verdict]) {
        let _ = write!(out, "<p>{}</p>", Escaped(line));
    }
    causes(&mut out, overlay);
    beats(&mut out, overlay);
    let heading = "Encoders' angles as drawn, ° (solid: logged; dashed: simulated without errors)";
    out.push_str(&chart(overlay, &overlay.drawn, overlay.shift_s, heading));
    if let (Some(fitted), Some(best)) = (&overlay.fitted, overlay.causes.first()) {
        let heading = format!("Encoders' angles with {} at {}, °", best.field, value(best.value));
        out.push_str(&chart(overlay, &fitted.run, fitted.shift_s, &heading));
    }
    out.push_str("</section>");
    out
}

fn value(value: f64) -> String {
    if value != 0.0 && value.abs() < 1e-2 { format!("{value:.3e}") } else { figure(value, 3) }
}

fn causes(out: &mut String, overlay: &Overlay) {
    if overlay.causes.is_empty() {
        return;
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
        "as good as the best",
    ];
    out.push_str("<h3>What would explain it</h3>");
    table::draw(out, "figures", &headings, rows);
}

fn beats(out: &mut String, overlay: &Overlay) {
    let after = overlay.fitted.as_ref().map_or(&[][..], |fitted| &fitted.beats);
    let cells = |own: &BeatOff| [own.late_ms, own.longer_ms, own.rms_deg].map(|v| figure(v, 2));
    let rows = overlay.beats.iter().enumerate().take(LISTED).map(|(k, own)| {
        let then = after.get(k).map_or_else(|| ["–"; 3].map(str::to_owned), cells);
        let first = [(own.beat + 1).to_string(), own.turns.clone()];
        first.into_iter().chain(cells(own)).chain(then).collect()
    });
    out.push_str("<h3>Beat by beat, as drawn and with the best figure</h3>");
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
    table::draw(out, "figures", &headings, rows);
}

/// Angles of the faces that turn.
fn chart(overlay: &Overlay, run: &Run, shift_s: f64, heading: &str) -> String {
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
