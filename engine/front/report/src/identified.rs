//! What logs tell of an axis, as a section of the report.

use core::fmt::Write as _;

use dryturn_record::ShownIdentification;
use dryturn_studies::identified_words;
use dryturn_studies::motor::{Identified, LimitKind};

use crate::html::{Escaped, figure};
use crate::plot::{self, AXIS, LEFT, RIGHT, Scale, WIDTH};
use crate::table;

/// Leads to the cautions.
pub(crate) const POINTER: &str = "<p class=\"aside\">Before an axis moves on a bench: see the cautions at the end of the page.</p>";

/// Height of a plot, px, and room above it.
const HEIGHT: f64 = 150.0;
const TOP: f64 = 24.0;
/// Columns of a thinned line.
const COLUMNS: usize = 500;

pub(crate) fn section(shown: &ShownIdentification) -> String {
    let found = &shown.found;
    let mut out = format!(
        "<section class=\"identified\"><h2>Axis measured: {}</h2>{POINTER}<p>",
        Escaped(&shown.title)
    );
    for line in identified_words(found).iter().take(2) {
        let _ = write!(out, "{} ", Escaped(line));
    }
    out.push_str("</p>");
    for warning in &found.warnings {
        let _ = write!(out, "<p class=\"aside\">Note: {}.</p>", Escaped(warning));
    }
    estimates(&mut out, found);
    limits(&mut out, found);
    moves(&mut out, found);
    held_out(&mut out, found);
    out.push_str("</section>");
    out
}

/// A number with its power of ten where it is small.
fn number(value: f64) -> String {
    if value != 0.0 && value.abs() < 1e-2 { format!("{value:.3e}") } else { figure(value, 4) }
}

fn estimates(out: &mut String, found: &Identified) {
    let rows = found.estimates.iter().map(|own| {
        let parameter = own.parameter;
        let told = |text: String| if own.open.is_none() { text } else { "–".to_owned() };
        vec![
            format!("{}, {}", parameter.words(), parameter.unit(found.over_inertia)),
            told(number(own.value)),
            own.error.map_or_else(|| "–".to_owned(), number),
            told(own.interval.map_or_else(String::new, |[low, high]| {
                format!("{} to {}", number(low), number(high))
            })),
            match &own.open {
                None => "determined".to_owned(),
                Some(why) => format!("cannot be determined from this log, because {why}"),
            },
        ]
    });
    let headings = ["figure", "value", "standard error", "95 % interval", "verdict"];
    table::draw(out, "listed", &headings, rows);
    let _ = write!(
        out,
        "<p>Condition number of the scaled columns {}; the fit leaves {} % of the torque.</p>",
        figure(found.condition_ratio, 1),
        figure(100.0 * found.misfit_share, 1)
    );
    if !found.fields.is_empty() {
        let rows = found.fields.iter().map(|field| {
            vec![format!("drive.{}", field.name), number(field.drawn), number(field.measured)]
        });
        out.push_str("<h3>What follows for the scene</h3>");
        table::draw(out, "figures", &["field", "drawn", "measured"], rows);
    }
}

fn limits(out: &mut String, found: &Identified) {
    if found.limits.is_empty() {
        return;
    }
    let rows = found.limits.iter().map(|limit| {
        let decimals = if limit.kind == LimitKind::Torque { 3 } else { 1 };
        vec![
            format!("{}, {}", limit.kind.words(), limit.kind.unit()),
            limit.reached.map_or_else(|| "–".to_owned(), |value| figure(value, decimals)),
            figure(limit.largest, decimals),
            limit.because.clone(),
        ]
    });
    out.push_str("<h3>Limits</h3>");
    table::draw(out, "listed", &["limit", "value", "largest logged", "how it is known"], rows);
}

fn moves(out: &mut String, found: &Identified) {
    let unit = if found.over_inertia { "rad/s²" } else { "N·m" };
    let friction = format!("friction at its top speed by itself, {unit}");
    let rows = found.moves.iter().enumerate().map(|(k, own)| {
        let name = k + 1;
        let kept = if name == found.held_out.number { " (kept out)" } else { "" };
        vec![
            format!("{name}{kept}"),
            own.log.to_string(),
            figure(own.start_s, 3),
            figure(own.way_deg, 1),
            figure(own.top_speed_rad_s, 1),
            own.friction.map_or_else(|| "–".to_owned(), |value| figure(value, 4)),
        ]
    });
    out.push_str("<h3>Moves</h3>");
    let headings = ["move", "log", "starts at, s", "way, °", "top speed, rad/s", &friction];
    table::draw(out, "figures", &headings, rows);
}

fn held_out(out: &mut String, found: &Identified) {
    let held = &found.held_out;
    let _ = write!(
        out,
        "<h3>Move {}, kept out of the fit and predicted: {}</h3><p>Torque within {} % (root mean square, \
         of its own), angle within {} % of the move; it ends {}° off. Solid: measured; dashed: \
         predicted.</p>",
        held.number,
        if held.accepted() { "accepted" } else { "not accepted" },
        figure(100.0 * held.torque_off_share, 1),
        figure(100.0 * held.angle_off_share, 1),
        figure(held.end_off_deg, 1)
    );
    let heading = if found.over_inertia {
        "Deceleration, rad/s², along the measured motion"
    } else if found.slow.is_some() {
        "Torque, N·m, as simulated"
    } else {
        "Torque, N·m, along the measured motion"
    };
    out.push_str(&pair(heading, &held.torque));
    let heading = if found.over_inertia {
        "Angle, °, computed from the first speed"
    } else if found.slow.is_some() {
        "Angle, °, simulated along the course that the angles tell"
    } else {
        "Angle, °, computed from the measured current"
    };
    out.push_str(&pair(heading, &held.angle));
}

/// Measured and predicted over time.
fn pair(heading: &str, points: &[[f64; 3]]) -> String {
    let bottom = TOP + HEIGHT;
    let ends = points.iter().flat_map(|[_, a, b]| [*a, *b]);
    let (low, high) =
        ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let last_ms = points.last().map_or(1.0, |point| point[0] * 1e3);
    let x = Scale::linear((0.0, last_ms), (LEFT, WIDTH - RIGHT));
    let y = Scale::linear((low, high), (bottom - 2.0, TOP + 2.0));
    let mut svg = format!(
        "<svg class=\"course\" viewBox=\"0 0 {WIDTH} {:.0}\" role=\"img\"><title>{heading}</title><text \
         class=\"heading\" x=\"{LEFT}\" y=\"15\">{heading}</text><rect class=\"lane\" x=\"{LEFT}\" \
         y=\"{TOP}\" width=\"{:.1}\" height=\"{HEIGHT}\"/>",
        bottom + AXIS,
        WIDTH - LEFT - RIGHT
    );
    let (ticks, step) = y.ticks(5);
    for tick in ticks {
        let _ = write!(
            svg,
            "<text class=\"value\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            LEFT - 5.0,
            y.px(tick) + 4.0,
            plot::tick_text(tick, step)
        );
    }
    plot::time_axis(&mut svg, &x, TOP, bottom);
    for (column, class, title) in [(1, "first", "measured"), (2, "second", "predicted")] {
        let line = points.iter().map(|point| (x.px(point[0] * 1e3), y.px(point[column])));
        let _ = write!(
            svg,
            "<path class=\"line {class}\" d=\"{}\"><title>{title}</title></path>",
            plot::path(&plot::thinned(line, COLUMNS))
        );
    }
    svg.push_str("</svg>");
    svg
}
