//! Lines over the time of a run, in lanes one below the other that share the time axis.

use core::fmt::Write as _;

use dryturn_handoff::Run;

use crate::html::Escaped;
use crate::plot::{self, AXIS, LEFT, RIGHT, Scale, WIDTH};

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

/// The chart as SVG; `heading` says what is drawn, with its unit. Each line is thinned to
/// at most two points in each of `columns` columns.
pub(crate) fn chart(run: &Run, heading: &str, lanes: &[Lane], columns: usize) -> String {
    let x = plot::time_scale(run);
    let inner: f64 = lanes.iter().map(|lane| lane.height + BETWEEN).sum();
    let bottom = TOP + inner - BETWEEN;
    let height = bottom + AXIS;
    let mut svg = format!(
        "<svg class=\"course\" viewBox=\"0 0 {WIDTH} {height:.0}\" role=\"img\"><title>{0}</title>\
         <text class=\"heading\" x=\"{LEFT}\" y=\"15\">{0}</text>",
        Escaped(heading)
    );
    let mut top = TOP;
    for lane in lanes {
        // Writing to a String cannot fail.
        let _ = write!(
            svg,
            "<rect class=\"lane\" x=\"{LEFT}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
            WIDTH - LEFT - RIGHT,
            lane.height
        );
        top += lane.height + BETWEEN;
    }
    beats(&mut svg, run, &x, bottom);
    plot::time_axis(&mut svg, &x, TOP, bottom);
    let mut top = TOP;
    for lane in lanes {
        draw(&mut svg, run, lane, (&x, top), columns);
        top += lane.height + BETWEEN;
    }
    events(&mut svg, run, &x, bottom);
    svg.push_str("</svg>");
    svg
}

/// Whether beats are drawn as bands: more would be a blur.
pub(crate) fn has_bands(run: &Run) -> bool {
    run.beats.len() <= MOST_BANDED
}

/// Every other beat as a band behind the lines.
fn beats(svg: &mut String, run: &Run, x: &Scale, bottom: f64) {
    if !has_bands(run) {
        return;
    }
    for beat in run.beats.iter().filter(|beat| beat.beat % 2 == 0 && !beat.turns.is_empty()) {
        let (from, to) = (x.px(beat.start_s() * 1e3), x.px(beat.stop_s() * 1e3));
        let _ = write!(
            svg,
            "<rect class=\"band\" x=\"{from:.1}\" y=\"{TOP}\" width=\"{:.1}\" height=\"{:.1}\"/>",
            (to - from).max(0.0),
            bottom - TOP
        );
    }
}

fn draw(svg: &mut String, run: &Run, lane: &Lane, (x, top): (&Scale, f64), columns: usize) {
    let below = top + lane.height;
    let y = Scale::linear(lane.range, (below - 1.0, top + 1.0));
    let _ = write!(
        svg,
        "<text class=\"lane-name\" x=\"4\" y=\"{:.1}\">{}</text>",
        top + lane.height / 2.0 + 5.0,
        Escaped(&lane.name)
    );
    if lane.negative_is_bad && lane.range.0 < 0.0 {
        let _ = write!(
            svg,
            "<rect class=\"bad\" x=\"{LEFT}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
            y.px(0.0),
            WIDTH - LEFT - RIGHT,
            below - y.px(0.0)
        );
    }
    let mut taken: Vec<f64> = Vec::new();
    for &tick in &lane.ticks.0 {
        let at = (y.px(tick) + LETTERS / 2.0 - 0.5).clamp(top + LETTERS - 1.0, below - 0.5);
        if taken.iter().any(|other| (other - at).abs() < LETTERS) {
            continue;
        }
        taken.push(at);
        let _ = write!(
            svg,
            "<text class=\"value\" x=\"{:.1}\" y=\"{at:.1}\">{}</text>",
            LEFT - 5.0,
            plot::tick_text(tick, lane.ticks.1)
        );
    }
    for level in &lane.levels {
        let at = y.px(level.value);
        let _ = write!(
            svg,
            "<line class=\"level\" x1=\"{LEFT}\" x2=\"{:.1}\" y1=\"{at:.1}\" y2=\"{at:.1}\"/>",
            WIDTH - RIGHT
        );
    }
    let step_ms = run.trace.step_s * 1e3;
    for line in &lane.lines {
        let drawable = |(k, value): (usize, &f64)| {
            value.is_finite().then(|| (x.px(k as f64 * step_ms), y.px(*value)))
        };
        let points = line.values.iter().enumerate().filter_map(drawable);
        let _ = write!(
            svg,
            "<path class=\"line {}\" d=\"{}\"><title>{}</title></path>",
            line.class,
            plot::path(&plot::thinned(points, columns)),
            Escaped(&line.title)
        );
    }
    for level in lane.levels.iter().filter(|level| !level.name.is_empty()) {
        let _ = write!(
            svg,
            "<text class=\"level-name\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            WIDTH - RIGHT - 4.0,
            y.px(level.value) - 3.0,
            Escaped(&level.name)
        );
    }
}

/// Where it jammed or stopped, and when the drives noticed.
fn events(svg: &mut String, run: &Run, x: &Scale, bottom: f64) {
    let mut line = |class: &str, time_s: f64, title: &str| {
        let at = x.px(time_s * 1e3);
        let _ = write!(
            svg,
            "<line class=\"{class}\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{TOP}\" y2=\"{bottom:.1}\">\
             <title>{title}</title></line>"
        );
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
