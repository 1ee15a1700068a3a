//! What logs tell of an axis, as a section of the report.

use dryturn_record::ShownIdentification;
use dryturn_studies::identified_words;
use dryturn_studies::motor::{Identified, LimitKind};
use maud::{Markup, Render, html};

use crate::charts::chart::{Chart, Plot};
use crate::charts::{thinned, time};
use crate::html::figures::{DASH, figure, figure_or_dash, small_or, tick_text};
use crate::html::table;
use crate::sections::cautions;

/// Height of a plot, px, and room above it.
const HEIGHT: f64 = 150.0;
const TOP: f64 = 24.0;
/// Columns of a thinned line.
const COLUMNS: usize = 500;

pub(crate) fn section(shown: &ShownIdentification) -> Markup {
    let found = &shown.found;
    html! {
        section.identified {
            h2 { "Axis measured: " (shown.title) }
            (cautions::bench_pointer())
            p { @for line in identified_words(found).iter().take(2) { (line) " " } }
            @for warning in &found.warnings { p.aside { "Note: " (warning) "." } }
            (estimates(found))
            (fields(found))
            (limits(found))
            (moves(found))
            (held_out(found))
        }
    }
}

/// A number with its power of ten where it is small.
fn number(value: f64) -> String {
    small_or(value, 4)
}

fn estimates(found: &Identified) -> Markup {
    let rows = found.estimates.iter().map(|own| {
        let parameter = own.parameter;
        let told = |text: String| if own.open.is_none() { text } else { DASH.to_owned() };
        vec![
            format!("{}, {}", parameter.words(), parameter.unit(found.over_inertia)),
            told(number(own.value)),
            own.error.map_or(DASH.to_owned(), number),
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
    html! {
        (table::draw("listed", &headings, rows))
        p {
            "Condition number of the scaled columns " (figure(found.condition_ratio, 1))
            "; the fit leaves " (figure(100.0 * found.misfit_share, 1)) " % of the torque."
        }
    }
}

fn fields(found: &Identified) -> Markup {
    if found.fields.is_empty() {
        return html! {};
    }
    let rows = found.fields.iter().map(|field| {
        vec![format!("drive.{}", field.name), number(field.drawn), number(field.measured)]
    });
    html! {
        h3 { "What follows for the scene" }
        (table::draw("figures", &["field", "drawn", "measured"], rows))
    }
}

fn limits(found: &Identified) -> Markup {
    if found.limits.is_empty() {
        return html! {};
    }
    let rows = found.limits.iter().map(|limit| {
        let decimals = if limit.kind == LimitKind::Torque { 3 } else { 1 };
        vec![
            format!("{}, {}", limit.kind.words(), limit.kind.unit()),
            figure_or_dash(limit.reached, decimals),
            figure(limit.largest, decimals),
            limit.because.clone(),
        ]
    });
    html! {
        h3 { "Limits" }
        (table::draw("listed", &["limit", "value", "largest logged", "how it is known"], rows))
    }
}

fn moves(found: &Identified) -> Markup {
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
            figure_or_dash(own.friction, 4),
        ]
    });
    let headings = ["move", "log", "starts at, s", "way, °", "top speed, rad/s", &friction];
    html! {
        h3 { "Moves" }
        (table::draw("figures", &headings, rows))
    }
}

fn held_out(found: &Identified) -> Markup {
    let held = &found.held_out;
    let accepted = if held.accepted() { "accepted" } else { "not accepted" };
    let torque = if found.over_inertia {
        "Deceleration, rad/s², along the measured motion"
    } else if found.slow.is_some() {
        "Torque, N·m, as simulated"
    } else {
        "Torque, N·m, along the measured motion"
    };
    let angle = if found.over_inertia {
        "Angle, °, computed from the first speed"
    } else if found.slow.is_some() {
        "Angle, °, simulated along the course that the angles tell"
    } else {
        "Angle, °, computed from the measured current"
    };
    html! {
        h3 { "Move " (held.number) ", kept out of the fit and predicted: " (accepted) }
        p {
            "Torque within " (figure(100.0 * held.torque_off_share, 1))
            " % (root mean square, of its own), angle within "
            (figure(100.0 * held.angle_off_share, 1)) " % of the move; it ends "
            (figure(held.end_off_deg, 1)) "° off. Solid: measured; dashed: predicted."
        }
        (pair(torque, &held.torque))
        (pair(angle, &held.angle))
    }
}

/// Measured and predicted over time.
fn pair(heading: &str, points: &[[f64; 3]]) -> Markup {
    let ends = points.iter().flat_map(|[_, a, b]| [*a, *b]);
    let ends = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let last_ms = points.last().map_or(1.0, |point| point[0] * 1e3);
    let plot = Plot::wide(TOP, HEIGHT);
    let (x, y) = (plot.across((0.0, last_ms), 0.0), plot.upwards(ends, 2.0));
    let mut chart = Chart::wide("course", heading, plot, time::ROOM);
    chart.heading();
    chart.lane(TOP, HEIGHT);
    let (ticks, step) = y.ticks(5);
    for tick in ticks {
        chart.value(y.px(tick) + 4.0, &tick_text(tick, step));
    }
    time::axis(&mut chart, &x);
    for (column, class, title) in [(1, "first", "measured"), (2, "second", "predicted")] {
        let line = points.iter().map(|point| (x.px(point[0] * 1e3), y.px(point[column])));
        chart.draw(thinned::line(class, line, COLUMNS, title));
    }
    chart.render()
}
