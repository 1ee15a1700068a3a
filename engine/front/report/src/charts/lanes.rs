//! Lines over the time of a run, in lanes one below the other that share the time axis.

use dryturn_handoff::Run;
use maud::{Markup, Render};

use crate::charts::chart::{Chart, Plot};
use crate::charts::scale::Scale;
use crate::charts::{svg, thinned, time};
use crate::html::figures::tick_text;

/// Space between lanes, px.
const BETWEEN: f64 = 6.0;
/// Room above the first lane, px.
const TOP: f64 = 24.0;
/// Height of letters in the lanes, px.
const LETTERS: f64 = 9.0;

/// Beats of a run that are drawn as bands.
const MOST_BANDED: usize = 60;

/// One line.
pub(crate) struct Line {
    /// `first` is drawn solid, `second` dashed.
    pub(crate) class: &'static str,
    /// Tooltip.
    pub(crate) title: String,
    /// A value for each sample of the trace.
    pub(crate) values: Vec<f64>,
}

/// A straight line across a lane.
pub(crate) struct Level {
    pub(crate) value: f64,
    /// What it is; written on it where it is not empty.
    pub(crate) name: String,
}

/// One lane with its own scale.
pub(crate) struct Lane {
    /// At its left: a face, a pair, or nothing.
    pub(crate) name: String,
    pub(crate) height: f64,
    /// Ends of its scale.
    pub(crate) range: (f64, f64),
    /// Figures at its left, those that must not be left out first, and the step that says
    /// how many decimals they have.
    pub(crate) ticks: (Vec<f64>, f64),
    pub(crate) levels: Vec<Level>,
    /// Whether what is below zero is tinted as bad.
    pub(crate) negative_is_bad: bool,
    pub(crate) lines: Vec<Line>,
}

/// The chart; `heading` says what is drawn, with its unit. Each line is thinned to
/// at most two points in each of `columns` columns.
pub(crate) fn chart(run: &Run, heading: &str, lanes: &[Lane], columns: usize) -> Markup {
    let height = lanes.iter().map(|lane| lane.height + BETWEEN).sum::<f64>() - BETWEEN;
    let plot = Plot::wide(TOP, height);
    let x = time::scale(run, &plot);
    let mut chart = Chart::wide("course", heading, plot, time::ROOM);
    chart.heading();
    let mut top = TOP;
    for lane in lanes {
        chart.lane(top, lane.height);
        top += lane.height + BETWEEN;
    }
    beats(&mut chart, run, &x);
    time::axis(&mut chart, &x);
    let mut top = TOP;
    for lane in lanes {
        draw(&mut chart, run, lane, (&x, top), columns);
        top += lane.height + BETWEEN;
    }
    events(&mut chart, run, &x);
    chart.render()
}

/// Whether beats are drawn as bands: more would be a blur.
pub(crate) fn has_bands(run: &Run) -> bool {
    run.beats.len() <= MOST_BANDED
}

/// Every other beat as a band behind the lines.
fn beats(chart: &mut Chart, run: &Run, x: &Scale) {
    if !has_bands(run) {
        return;
    }
    let Plot { top, bottom, .. } = chart.plot();
    for beat in run.beats.iter().filter(|beat| beat.beat % 2 == 0 && !beat.turns.is_empty()) {
        let ends = (x.px(beat.start_s() * 1e3), x.px(beat.stop_s() * 1e3));
        chart.band("band", ends, (top, bottom - top));
    }
}

fn draw(chart: &mut Chart, run: &Run, lane: &Lane, (x, top): (&Scale, f64), columns: usize) {
    let below = top + lane.height;
    let Plot { left, right, .. } = chart.plot();
    let y = Scale::linear(lane.range, (below - 1.0, top + 1.0));
    chart.draw(svg::text("lane-name", (4.0, top + lane.height / 2.0 + 5.0), &lane.name));
    if lane.negative_is_bad && lane.range.0 < 0.0 {
        chart.band("bad", (left, right), (y.px(0.0), below - y.px(0.0)));
    }
    let mut taken: Vec<f64> = Vec::new();
    for &tick in &lane.ticks.0 {
        let at = (y.px(tick) + LETTERS / 2.0 - 0.5).clamp(top + LETTERS - 1.0, below - 0.5);
        if taken.iter().any(|other| (other - at).abs() < LETTERS) {
            continue;
        }
        taken.push(at);
        chart.value(at, &tick_text(tick, lane.ticks.1));
    }
    for level in &lane.levels {
        chart.draw(svg::level("level", (left, right), y.px(level.value)));
    }
    let step_ms = run.trace.step_s * 1e3;
    for line in &lane.lines {
        let drawable = |(k, value): (usize, &f64)| {
            value.is_finite().then(|| (x.px(k as f64 * step_ms), y.px(*value)))
        };
        let points = line.values.iter().enumerate().filter_map(drawable);
        chart.draw(thinned::line(line.class, points, columns, &line.title));
    }
    for level in lane.levels.iter().filter(|level| !level.name.is_empty()) {
        let at = (right - 4.0, y.px(level.value) - 3.0);
        chart.draw(svg::text("level-name", at, &level.name));
    }
}

/// Where it jammed or stopped, and when the drives noticed.
fn events(chart: &mut Chart, run: &Run, x: &Scale) {
    let Plot { top, bottom, .. } = chart.plot();
    let mut line = |class: &str, time_s: f64, title: &str| {
        chart.draw(svg::upright(class, x.px(time_s * 1e3), (top, bottom), title));
    };
    for pushed in &run.pushed {
        line("pushed", pushed.time_s, "pushed through");
    }
    if let Some(jam) = run.jam() {
        line("jam", jam.time_s, "jam");
        jam.noticed_s.into_iter().for_each(|time_s| line("noticed", time_s, "noticed"));
    }
    if let Some(stop) = run.stop() {
        line("jam", stop.time_s, "stopped");
    }
}
