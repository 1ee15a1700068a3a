//! Points with their intervals over a setting.

use maud::{Markup, html};

use crate::charts::chart::{Below, Chart, Plot};
use crate::charts::scale::{Scale, round_step};
use crate::charts::styles::Style;
use crate::charts::svg::{self, px};
use crate::charts::thinned;
use crate::html::figures::tick_text;

/// Width of a plot and room right of it, above it and below it, px.
const WIDTH: f64 = 660.0;
const RIGHT: f64 = 36.0;
const TOP: f64 = 14.0;
const ROOM: f64 = 52.0;
/// The axis below a plot.
pub(crate) const LAYOUT: Below = Below { across: false, end: 4.0, figures: 21.0, name: 44.0 };
/// From this ratio of the largest value to the least on, the setting's axis is by ratio.
const LOG_FROM: f64 = 5.0;
/// Names at the setting's axis are at least so far apart, px, and a letter takes so much.
const APART: f64 = 54.0;
const LETTER: f64 = 8.0;

/// The setting's axis: its name with the unit, its values, and what they are called where
/// they are no numbers (else empty).
pub(crate) struct Axis<'a> {
    pub(crate) setting: &'a str,
    pub(crate) values: &'a [f64],
    pub(crate) names: &'a [String],
}

impl Axis<'_> {
    /// What a value is called.
    pub(crate) fn name(&self, value: f64) -> String {
        self.names.get(value as usize).cloned().unwrap_or_else(|| value.to_string())
    }
}

/// The setting's scale, with some room at both ends.
fn scale(axis: &Axis<'_>, plot: &Plot) -> Scale {
    let values = axis.values;
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let pixels = (plot.left + 14.0, plot.right - 14.0);
    if !axis.names.is_empty() {
        return Scale::linear((least - 0.5, most + 0.5), pixels);
    }
    if least > 0.0 && most / least >= LOG_FROM {
        Scale::logarithmic((least, most), pixels)
    } else {
        Scale::linear((least, most), pixels)
    }
}

/// A point, with its interval where it has one.
pub(crate) struct Mark {
    pub(crate) at: f64,
    pub(crate) value: f64,
    pub(crate) interval: Option<(f64, f64)>,
    pub(crate) title: String,
}

/// Points that a line joins.
pub(crate) struct Series {
    pub(crate) style: Style,
    pub(crate) marks: Vec<Mark>,
}

/// A range of whole steps, at most about so many, round all values from the least to the most;
/// no less than `span` is divided.
pub(crate) fn whole_steps((least, most): (f64, f64), span: f64, steps: usize) -> (f64, f64) {
    let step = round_step((most - least).max(span), steps);
    ((least / step).floor() * step, (most / step).ceil() * step)
}

/// A plot of so many pixels in height.
pub(crate) fn plot(heading: &str, height: f64) -> Chart {
    let plot = Plot::sized(TOP, (WIDTH, height));
    let mut chart = Chart::new("marks", heading, plot, (RIGHT, ROOM)).fixed();
    chart.lane(TOP, height);
    chart
}

/// A chart below its title.
pub(crate) fn headed(chart: &Chart) -> Markup {
    html! {
        p.plot-heading { (chart.title()) }
        (chart)
    }
}

/// Series over a setting; heading, range and height of the plot. The first series lies lowest.
pub(crate) fn draw(
    axis: &Axis<'_>,
    (heading, range, height): (&str, (f64, f64), f64),
    series: &[Series],
) -> Markup {
    let mut chart = plot(heading, height);
    let (x, y) = (scale(axis, &chart.plot()), chart.plot().upwards(range, 0.0));
    let (ticks, step) = y.ticks(if height > 150.0 { 6 } else { 4 });
    for tick in ticks {
        chart.across(y.px(tick), &tick_text(tick, step));
    }
    let mut free_from = f64::NEG_INFINITY;
    for value in axis.values {
        let at = x.px(*value);
        let name = if at >= free_from { axis.name(*value) } else { String::new() };
        if !name.is_empty() {
            free_from = at + APART.max(LETTER * name.chars().count() as f64);
        }
        chart.below(&LAYOUT, at, &name);
    }
    chart.name_below(&LAYOUT, axis.setting);
    // There is nothing between two names.
    for Series { style, marks } in series.iter().filter(|_| axis.names.is_empty()) {
        let line: Vec<(f64, f64)> = marks.iter().map(|m| (x.px(m.at), y.px(m.value))).collect();
        chart.draw(style.line(&thinned::path(&line)));
    }
    for Series { style, marks } in series {
        for Mark { at, value, interval, title } in marks {
            let at = x.px(*at);
            let ends = interval.map(|(low, high)| bar(at, (y.px(low), y.px(high))));
            let mark = style.mark(at, y.px(*value));
            chart.draw(svg::tipped(title, html! { @if let Some(bar) = ends { (bar) } (mark) }));
        }
    }
    headed(&chart)
}

/// An interval with its ends.
fn bar(x: f64, (low, high): (f64, f64)) -> Markup {
    let (at, left, low, high) = (px(x), px(x - 4.0), px(low), px(high));
    svg::path("interval", &format!("M{at} {low}V{high}M{left} {low}h8M{left} {high}h8"), "")
}
