//! Jam rate and time over a setting.

use std::sync::Arc;

use dryturn_rehearsal::{Sweep, TurningDrill};

use crate::html::{Escaped, figure};
use crate::marks::{self, Mark};
use crate::page::POINTER;
use crate::{plot, table};

/// Height of the two plots, px.
const RATE: f64 = 230.0;
const TIME: f64 = 120.0;

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

fn values(points: &[&Point]) -> Vec<f64> {
    points.iter().map(|point| point.0).collect()
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
    marks::draw(out, &sweep.setting, &values(points), (heading, range, RATE), &marks);
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
    marks::draw(out, &sweep.setting, &values(points), (heading, range, TIME), &marks);
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
