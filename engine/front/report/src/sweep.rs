//! Failures and time over a setting.

use std::sync::Arc;

use dryturn_record::Sweep;
use dryturn_studies::{FailureKind, TurningDrill};

use crate::html::{Escaped, figure};
use crate::kinds::{self, TOTAL};
use crate::marks::{self, Axis, Mark, Series};
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
    let kinds = occurred(&points);
    out.push_str("<figure>");
    rates(&mut out, sweep, &points, &kinds);
    times(&mut out, sweep, &points);
    out.push_str(
        "<figcaption>Bars: 95 % intervals, of the share of all failures by Wilson, of the median \
         time of completed executions by bootstrap; they speak of the plans that were turned. \
         </figcaption></figure>",
    );
    rows(&mut out, sweep, &points, &kinds);
    out.push_str("</section>");
    out
}

/// The kinds of failure that occurred at any point.
fn occurred(points: &[&Point]) -> Vec<FailureKind> {
    let any = |kind: &FailureKind| points.iter().any(|(_, d)| d.failures().of_kind(*kind) > 0);
    FailureKind::ALL.into_iter().filter(any).collect()
}

fn values(points: &[&Point]) -> Vec<f64> {
    points.iter().map(|point| point.0).collect()
}

fn axis<'a>(sweep: &'a Sweep, values: &'a [f64]) -> Axis<'a> {
    Axis { setting: &sweep.setting, values, names: &sweep.names }
}

fn percent(count: usize, trials: usize) -> f64 {
    100.0 * count as f64 / trials.max(1) as f64
}

fn rates(out: &mut String, sweep: &Sweep, points: &[&Point], kinds: &[FailureKind]) {
    let values = values(points);
    let axis = axis(sweep, &values);
    let executed: Vec<&&Point> = points.iter().filter(|point| point.1.trials() > 0).collect();
    let total = |(at, drill): &&&Point| {
        let failures = drill.failures();
        let (low, high) = failures.interval();
        Mark {
            at: *at,
            value: 100.0 * failures.share(),
            interval: Some((100.0 * low, 100.0 * high)),
            title: format!("{}: {}", axis.name(*at), failures.words()),
        }
    };
    let own = |kind: FailureKind| {
        let mark = |(at, drill): &&&Point| {
            let (count, trials) = (drill.failures().of_kind(kind), drill.trials());
            Mark {
                at: *at,
                value: percent(count, trials),
                interval: None,
                title: format!("{}: {}, {count} of {trials}", axis.name(*at), kind.words()),
            }
        };
        Series { style: kinds::style(kind), marks: executed.iter().map(mark).collect() }
    };
    let mut series = vec![Series { style: TOTAL, marks: executed.iter().map(total).collect() }];
    series.extend(kinds.iter().map(|kind| own(*kind)));
    let highs = series[0].marks.iter().filter_map(|mark| Some(mark.interval?.1));
    let range = (0.0, plot::round_up(highs.fold(0.0, f64::max)).min(100.0));
    let heading = "Share of executions that fail, %";
    marks::draw(out, &axis, (heading, range, RATE), &series);
    let mut names = vec![(TOTAL, "all failures")];
    names.extend(kinds.iter().map(|kind| (kinds::style(*kind), kind.words())));
    kinds::legend(out, &names);
}

fn times(out: &mut String, sweep: &Sweep, points: &[&Point]) {
    let values = values(points);
    let axis = axis(sweep, &values);
    let mark = |(at, drill): &&Point| {
        let (value, (low, high)) = drill.time_s(0.5)?;
        let title = format!("{}: median {} ms", axis.name(*at), figure(value * 1e3, 1));
        Some(Mark { at: *at, value: value * 1e3, interval: Some((low * 1e3, high * 1e3)), title })
    };
    let marks: Vec<Mark> = points.iter().filter_map(mark).collect();
    if marks.is_empty() {
        out.push_str("<p>No execution was completed.</p>");
        return;
    }
    let ends = || marks.iter().filter_map(|mark| mark.interval);
    let least = ends().map(|(low, _)| low).fold(f64::INFINITY, f64::min);
    let most = ends().map(|(_, high)| high).fold(0.0, f64::max);
    let step = plot::round_step((most - least).max(0.01 * most), 4);
    let range = ((least / step).floor() * step, (most / step).ceil() * step);
    let heading = "Median time of completed executions, ms (the axis does not begin at 0)";
    let series = [Series { style: TOTAL, marks }];
    marks::draw(out, &axis, (heading, range, TIME), &series);
}

fn rows(out: &mut String, sweep: &Sweep, points: &[&Point], kinds: &[FailureKind]) {
    let values = values(points);
    let axis = axis(sweep, &values);
    let cells = |(value, drill): &&Point| {
        let failures = drill.failures();
        let interval = |(low, high): (f64, f64), decimals: usize| {
            format!("{} to {}", figure(low, decimals), figure(high, decimals))
        };
        let dash = || "–".to_owned();
        let (low, high) = failures.interval();
        let time = drill.time_s(0.5);
        let mut cells = vec![
            axis.name(*value),
            drill.trials().to_string(),
            failures.count().to_string(),
            figure(100.0 * failures.share(), 2),
            interval((100.0 * low, 100.0 * high), 2),
        ];
        cells.extend(kinds.iter().map(|kind| failures.of_kind(*kind).to_string()));
        cells.extend([
            drill.pushed().to_string(),
            time.map_or_else(dash, |(median, _)| figure(median * 1e3, 1)),
            time.map_or_else(dash, |(_, (low, high))| interval((low * 1e3, high * 1e3), 1)),
        ]);
        cells
    };
    let mut headings = vec![
        sweep.setting.as_str(),
        "executions",
        "failed",
        "failed, %",
        "95 % interval (Wilson), %",
    ];
    headings.extend(kinds.iter().map(|kind| kind.words()));
    headings.extend([
        "with faces pushed through",
        "median time, ms",
        "95 % interval (bootstrap), ms",
    ]);
    table::draw(out, "figures", &headings, points.iter().map(cells));
}
