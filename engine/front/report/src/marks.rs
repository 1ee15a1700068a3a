//! Points with their intervals over a setting.

use core::fmt::Write as _;

use crate::html::Escaped;
use crate::kinds::Style;
use crate::plot::{self, Scale, tick_text};

pub(crate) const WIDTH: f64 = 760.0;
pub(crate) const LEFT: f64 = 64.0;
pub(crate) const RIGHT: f64 = 36.0;
/// Room above a plot and below it, px.
pub(crate) const TOP: f64 = 14.0;
const BELOW: f64 = 52.0;
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
fn scale(axis: &Axis<'_>) -> Scale {
    let values = axis.values;
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let pixels = (LEFT + 14.0, WIDTH - RIGHT - 14.0);
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

/// Series over a setting; heading, range and height of the plot. The first series lies lowest.
pub(crate) fn draw(
    out: &mut String,
    axis: &Axis<'_>,
    (heading, range, height): (&str, (f64, f64), f64),
    series: &[Series],
) {
    let bottom = TOP + height;
    let (x, y) = (scale(axis), Scale::linear(range, (bottom, TOP)));
    frame(out, heading, height);
    let (ticks, step) = y.ticks(if height > 150.0 { 6 } else { 4 });
    for tick in ticks {
        across(out, y.px(tick), &tick_text(tick, step));
    }
    let mut free_from = f64::NEG_INFINITY;
    for value in axis.values {
        let at = x.px(*value);
        let name = if at >= free_from { axis.name(*value) } else { String::new() };
        if !name.is_empty() {
            free_from = at + APART.max(LETTER * name.chars().count() as f64);
        }
        below(out, at, bottom, &Escaped(&name).to_string());
    }
    name_below(out, bottom, axis.setting);
    // There is nothing between two names.
    for Series { style, marks } in series.iter().filter(|_| axis.names.is_empty()) {
        let line: Vec<(f64, f64)> = marks.iter().map(|m| (x.px(m.at), y.px(m.value))).collect();
        let _ = write!(out, "<path class=\"series {}\" d=\"{}\"/>", style.class, plot::path(&line));
    }
    for Series { style, marks } in series {
        for Mark { at, value, interval, title } in marks {
            let (x, own) = (x.px(*at), y.px(*value));
            let bar = interval.map_or_else(String::new, |(low, high)| {
                let (low, high, left) = (y.px(low), y.px(high), x - 4.0);
                format!(
                    "<path class=\"interval\" d=\"M{x:.1} {low:.1}V{high:.1}M{left:.1} {low:.1}h8M{left:.1} \
                     {high:.1}h8\"/>"
                )
            });
            let mark = style.mark(x, own);
            let _ = write!(out, "<g><title>{}</title>{bar}{mark}</g>", Escaped(title));
        }
    }
    out.push_str("</svg>");
}

/// Opens a plot of so many pixels in height, with its heading above.
pub(crate) fn frame(out: &mut String, heading: &str, height: f64) {
    // Writing to a String cannot fail.
    let _ = write!(
        out,
        "<p class=\"plot-heading\">{heading}</p><svg class=\"marks\" viewBox=\"0 0 {WIDTH} {0:.0}\" \
         width=\"{WIDTH}\" role=\"img\"><title>{heading}</title><rect class=\"lane\" x=\"{LEFT}\" \
         y=\"{TOP}\" width=\"{1:.1}\" height=\"{height:.1}\"/>",
        TOP + height + BELOW,
        WIDTH - LEFT - RIGHT
    );
}

/// A line across the plot, with its value beside it.
pub(crate) fn across(out: &mut String, at: f64, name: &str) {
    let _ = write!(
        out,
        "<line class=\"tick\" x1=\"{LEFT}\" x2=\"{:.1}\" y1=\"{at:.1}\" y2=\"{at:.1}\"/><text \
         class=\"value\" x=\"{:.1}\" y=\"{:.1}\">{name}</text>",
        WIDTH - RIGHT,
        LEFT - 5.0,
        at + 4.0
    );
}

/// A tick below the plot, with its value unless that is empty.
pub(crate) fn below(out: &mut String, at: f64, bottom: f64, name: &str) {
    let _ = write!(
        out,
        "<line class=\"tick\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{bottom:.1}\" y2=\"{:.1}\"/>",
        bottom + 4.0
    );
    if !name.is_empty() {
        let _ = write!(
            out,
            "<text class=\"tick-name\" x=\"{at:.1}\" y=\"{:.1}\">{name}</text>",
            bottom + 21.0
        );
    }
}

/// What the axis below the plot shows.
pub(crate) fn name_below(out: &mut String, bottom: f64, name: &str) {
    let _ = write!(
        out,
        "<text class=\"tick-name\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        (LEFT + WIDTH - RIGHT) / 2.0,
        bottom + 44.0,
        Escaped(name)
    );
}
