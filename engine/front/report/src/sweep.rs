//! Jam rate and time over a setting.

use core::fmt::Write as _;
use std::sync::Arc;

use dryturn_rehearsal::{Sweep, TurningDrill};

use crate::html::{Escaped, figure};
use crate::page::POINTER;
use crate::plot::{self, Scale, tick_text};
use crate::table;

const WIDTH: f64 = 760.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 36.0;
/// Height of the two plots, px.
const RATE: f64 = 230.0;
const TIME: f64 = 120.0;
/// Room above a plot and below it, px.
const TOP: f64 = 26.0;
const BELOW: f64 = 44.0;
/// From this ratio of the largest value to the least on, the setting's axis is by ratio.
const LOG_FROM: f64 = 5.0;
/// Names at the setting's axis are at least so far apart, px.
const APART: f64 = 44.0;

type Point = (f64, Arc<TurningDrill>);

pub(crate) fn section(sweep: &Sweep) -> String {
    let mut out = format!("<section class=\"sweep\"><h2>{}</h2>{POINTER}", Escaped(&sweep.title));
    let points: Vec<&Point> = sweep.points.iter().filter(|point| point.0.is_finite()).collect();
    if points.is_empty() {
        out.push_str("<p>Nothing was executed.</p></section>");
        return out;
    }
    out.push_str("<figure>");
    rates(&mut out, sweep, &points);
    times(&mut out, sweep, &points);
    out.push_str(
        "<figcaption>Bars: 95 % intervals, of the share by Wilson, of the median time of completed \
         executions by bootstrap; they speak of the plans that were turned.</figcaption></figure>",
    );
    rows(&mut out, sweep, &points);
    out.push_str("</section>");
    out
}

/// The setting's scale, with some room at both ends.
fn scale(points: &[&Point]) -> Scale {
    let least = points.iter().map(|point| point.0).fold(f64::INFINITY, f64::min);
    let most = points.iter().map(|point| point.0).fold(f64::NEG_INFINITY, f64::max);
    let pixels = (LEFT + 14.0, WIDTH - RIGHT - 14.0);
    if least > 0.0 && most / least >= LOG_FROM {
        Scale::logarithmic((least, most), pixels)
    } else {
        Scale::linear((least, most), pixels)
    }
}

/// A point with its interval; `None` where there is nothing to say.
struct Mark {
    at: f64,
    value: f64,
    interval: (f64, f64),
    title: String,
}

fn share(drill: &TurningDrill) -> f64 {
    100.0 * drill.jams() as f64 / drill.trials().max(1) as f64
}

fn rates(out: &mut String, sweep: &Sweep, points: &[&Point]) {
    let mark = |(at, drill): &&Point| {
        let (low, high) = drill.jam_interval();
        let title = format!("{at}: {} of {} jammed", drill.jams(), drill.trials());
        let value = share(drill);
        Mark { at: *at, value, interval: (100.0 * low, 100.0 * high), title }
    };
    let executed = points.iter().filter(|point| point.1.trials() > 0);
    let marks: Vec<Mark> = executed.map(mark).collect();
    let most = marks.iter().map(|mark| mark.interval.1).fold(0.0, f64::max);
    let range = (0.0, plot::round_up(most).min(100.0));
    let heading = "Share of executions that jam, %";
    plot_marks(out, sweep, points, (heading, range, RATE), &marks);
}

fn times(out: &mut String, sweep: &Sweep, points: &[&Point]) {
    let mark = |(at, drill): &&Point| {
        let (value, (low, high)) = drill.time_s(0.5)?;
        let title = format!("{at}: median {} ms", figure(value * 1e3, 1));
        Some(Mark { at: *at, value: value * 1e3, interval: (low * 1e3, high * 1e3), title })
    };
    let marks: Vec<Mark> = points.iter().filter_map(mark).collect();
    if marks.is_empty() {
        out.push_str("<p>No execution was completed.</p>");
        return;
    }
    let least = marks.iter().map(|mark| mark.interval.0).fold(f64::INFINITY, f64::min);
    let most = marks.iter().map(|mark| mark.interval.1).fold(0.0, f64::max);
    let step = plot::round_step((most - least).max(0.01 * most), 4);
    let range = ((least / step).floor() * step, (most / step).ceil() * step);
    let heading = "Median time of completed executions, ms (the axis does not begin at 0)";
    plot_marks(out, sweep, points, (heading, range, TIME), &marks);
}

fn plot_marks(
    out: &mut String,
    sweep: &Sweep,
    points: &[&Point],
    (heading, range, height): (&str, (f64, f64), f64),
    marks: &[Mark],
) {
    let bottom = TOP + height;
    let (x, y) = (scale(points), Scale::linear(range, (bottom, TOP)));
    // Writing to a String cannot fail.
    let _ = write!(
        out,
        "<svg class=\"marks\" viewBox=\"0 0 {WIDTH} {0:.0}\" width=\"{WIDTH}\" role=\"img\"><title>\
         {heading}</title><text class=\"heading\" x=\"{LEFT}\" y=\"15\">{heading}</text><rect \
         class=\"lane\" x=\"{LEFT}\" y=\"{TOP}\" width=\"{1:.1}\" height=\"{height:.1}\"/>",
        bottom + BELOW,
        WIDTH - LEFT - RIGHT
    );
    let (ticks, step) = y.ticks(if height > 150.0 { 6 } else { 4 });
    for tick in ticks {
        let at = y.px(tick);
        let _ = write!(
            out,
            "<line class=\"tick\" x1=\"{LEFT}\" x2=\"{:.1}\" y1=\"{at:.1}\" y2=\"{at:.1}\"/><text \
             class=\"value\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            WIDTH - RIGHT,
            LEFT - 5.0,
            at + 4.0,
            tick_text(tick, step)
        );
    }
    let mut free_from = f64::NEG_INFINITY;
    for (value, _) in points {
        let at = x.px(*value);
        let _ = write!(
            out,
            "<line class=\"tick\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{bottom:.1}\" y2=\"{:.1}\"/>",
            bottom + 4.0
        );
        if at >= free_from {
            free_from = at + APART;
            let _ = write!(
                out,
                "<text class=\"tick-name\" x=\"{at:.1}\" y=\"{:.1}\">{value}</text>",
                bottom + 18.0
            );
        }
    }
    let _ = write!(
        out,
        "<text class=\"tick-name\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        (LEFT + WIDTH - RIGHT) / 2.0,
        bottom + 36.0,
        Escaped(&sweep.setting)
    );
    let line: Vec<(f64, f64)> = marks.iter().map(|m| (x.px(m.at), y.px(m.value))).collect();
    let _ = write!(out, "<path class=\"between\" d=\"{}\"/>", plot::path(&line));
    for Mark { at, value, interval, title } in marks {
        let (x, y, low, high) = (x.px(*at), y.px(*value), y.px(interval.0), y.px(interval.1));
        let _ = write!(
            out,
            "<g><title>{}</title><path class=\"interval\" d=\"M{x:.1} {low:.1}V{high:.1}M{left:.1} \
             {low:.1}h8M{left:.1} {high:.1}h8\"/><circle class=\"point\" cx=\"{x:.1}\" cy=\"{y:.1}\" \
             r=\"4\"/></g>",
            Escaped(title),
            left = x - 4.0,
        );
    }
    out.push_str("</svg>");
}

fn rows(out: &mut String, sweep: &Sweep, points: &[&Point]) {
    let cells = |(value, drill): &&Point| {
        let (low, high) = drill.jam_interval();
        let interval = |(low, high): (f64, f64), decimals: usize| {
            format!("{} to {}", figure(low, decimals), figure(high, decimals))
        };
        let dash = || "–".to_owned();
        let time = drill.time_s(0.5);
        vec![
            value.to_string(),
            drill.trials().to_string(),
            drill.jams().to_string(),
            figure(share(drill), 2),
            interval((100.0 * low, 100.0 * high), 2),
            drill.pushed().to_string(),
            drill.stops().to_string(),
            time.map_or_else(dash, |(median, _)| figure(median * 1e3, 1)),
            time.map_or_else(dash, |(_, (low, high))| interval((low * 1e3, high * 1e3), 1)),
        ]
    };
    let headings = [
        sweep.setting.as_str(),
        "executions",
        "jams",
        "jams, %",
        "95 % interval (Wilson), %",
        "with faces pushed through",
        "other stops",
        "median time, ms",
        "95 % interval (bootstrap), ms",
    ];
    table::draw(out, "figures", &headings, points.iter().map(cells));
}
