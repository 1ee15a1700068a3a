//! Failures and time over a setting.

use std::sync::Arc;

use dryturn_record::Sweep;
use dryturn_studies::{FailureKind, TurningDrill};
use maud::{Markup, html};

use crate::charts::scale::round_up;
use crate::charts::series::{self, Axis, Mark, Series};
use crate::charts::styles::{self, TOTAL};
use crate::html::figures::{DASH, between, figure, in_percent, ms, ms_or_dash};
use crate::html::table;
use crate::sections::cautions;

/// Height of the two plots, px.
const RATE: f64 = 230.0;
const TIME: f64 = 120.0;

type Point = (f64, Arc<TurningDrill>);

pub(crate) fn section(sweep: &Sweep) -> Markup {
    let points: Vec<&Point> = sweep.points.iter().filter(|point| point.0.is_finite()).collect();
    let values: Vec<f64> = points.iter().map(|point| point.0).collect();
    let axis = Axis { setting: &sweep.setting, values: &values, names: &sweep.names };
    let kinds = occurred(&points);
    html! {
        section.sweep {
            h2 { (sweep.title) }
            (cautions::pointer())
            @if points.is_empty() {
                p { "Nothing was executed." }
            } @else {
                figure {
                    (rates(&axis, &points, &kinds))
                    (times(&axis, &points))
                    figcaption {
                        "Bars: 95 % intervals, of the share of all failures by Wilson, of the \
                         median time of completed executions by bootstrap; they speak of the plans \
                         that were turned. "
                    }
                }
                (rows(&axis, &points, &kinds))
            }
        }
    }
}

/// The kinds of failure that occurred at any point.
fn occurred(points: &[&Point]) -> Vec<FailureKind> {
    let any = |kind: &FailureKind| points.iter().any(|(_, d)| d.failures().of_kind(*kind) > 0);
    FailureKind::ALL.into_iter().filter(any).collect()
}

fn rates(axis: &Axis<'_>, points: &[&Point], kinds: &[FailureKind]) -> Markup {
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
                value: in_percent(count, trials),
                interval: None,
                title: format!("{}: {}, {count} of {trials}", axis.name(*at), kind.words()),
            }
        };
        Series { style: styles::style(kind), marks: executed.iter().map(mark).collect() }
    };
    let mut series = vec![Series { style: TOTAL, marks: executed.iter().map(total).collect() }];
    series.extend(kinds.iter().map(|kind| own(*kind)));
    let highs = series[0].marks.iter().filter_map(|mark| Some(mark.interval?.1));
    let range = (0.0, round_up(highs.fold(0.0, f64::max)).min(100.0));
    let heading = "Share of executions that fail, %";
    let mut names = vec![(TOTAL, "all failures")];
    names.extend(kinds.iter().map(|kind| (styles::style(*kind), kind.words())));
    html! {
        (series::draw(axis, (heading, range, RATE), &series))
        (styles::legend(&names))
    }
}

fn times(axis: &Axis<'_>, points: &[&Point]) -> Markup {
    let mark = |(at, drill): &&Point| {
        let (value, (low, high)) = drill.time_s(0.5)?;
        let title = format!("{}: median {} ms", axis.name(*at), ms(value));
        Some(Mark { at: *at, value: value * 1e3, interval: Some((low * 1e3, high * 1e3)), title })
    };
    let marks: Vec<Mark> = points.iter().filter_map(mark).collect();
    if marks.is_empty() {
        return html! { p { "No execution was completed." } };
    }
    let ends = || marks.iter().filter_map(|mark| mark.interval);
    let least = ends().map(|(low, _)| low).fold(f64::INFINITY, f64::min);
    let most = ends().map(|(_, high)| high).fold(0.0, f64::max);
    let range = series::whole_steps((least, most), 0.01 * most, 4);
    let heading = "Median time of completed executions, ms (the axis does not begin at 0)";
    series::draw(axis, (heading, range, TIME), &[Series { style: TOTAL, marks }])
}

fn rows(axis: &Axis<'_>, points: &[&Point], kinds: &[FailureKind]) -> Markup {
    let cells = |(value, drill): &&Point| {
        let failures = drill.failures();
        let (low, high) = failures.interval();
        let time = drill.time_s(0.5);
        let mut cells = vec![
            axis.name(*value),
            drill.trials().to_string(),
            failures.count().to_string(),
            figure(100.0 * failures.share(), 2),
            between((100.0 * low, 100.0 * high), 2),
        ];
        cells.extend(kinds.iter().map(|kind| failures.of_kind(*kind).to_string()));
        cells.extend([
            drill.pushed().to_string(),
            ms_or_dash(time.map(|(median, _)| median)),
            time.map_or(DASH.to_owned(), |(_, (low, high))| between((low * 1e3, high * 1e3), 1)),
        ]);
        cells
    };
    let mut headings =
        vec![axis.setting, "executions", "failed", "failed, %", "95 % interval (Wilson), %"];
    headings.extend(kinds.iter().map(|kind| kind.words()));
    headings.extend([
        "with faces pushed through",
        "median time, ms",
        "95 % interval (bootstrap), ms",
    ]);
    table::draw("figures", &headings, points.iter().map(cells))
}
