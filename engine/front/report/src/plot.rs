//! What charts share: scales, round ticks, thinned lines, the time axis.

use core::fmt::Write as _;

use dryturn_handoff::Run;
use dryturn_units::maths;

/// Width of a chart, px.
pub(crate) const WIDTH: f64 = 1080.0;
/// Room for names and figures beside the plot, px.
pub(crate) const LEFT: f64 = 64.0;
/// Room at the right, px.
pub(crate) const RIGHT: f64 = 16.0;
/// Room that [`time_axis`] takes below a plot, px.
pub(crate) const AXIS: f64 = 38.0;

/// How far a thinned line may be off, px.
const TOLERANCE_PX: f64 = 0.2;

/// The greatest power of ten that is no larger.
fn power_of_ten(value: f64) -> f64 {
    let exponent = maths::log10(value).floor() as i32;
    let power = maths::whole_pow(10.0, exponent.unsigned_abs());
    if exponent < 0 { 1.0 / power } else { power }
}

/// The smallest of 1, 2, 5 × a power of ten that divides `span` into at most `most` parts.
pub(crate) fn round_step(span: f64, most: usize) -> f64 {
    let wanted = span / most.max(1) as f64;
    if !wanted.is_finite() || wanted <= 0.0 {
        return 1.0;
    }
    let power = power_of_ten(wanted);
    // A hair of room for the division.
    let parts = [1.0, 2.0, 5.0, 10.0].into_iter();
    power * parts.into_iter().find(|part| part * power >= wanted * 0.999_999).unwrap_or(10.0)
}

/// The next round figure from `value` on, for the end of a scale.
pub(crate) fn round_up(value: f64) -> f64 {
    if !value.is_finite() || value <= 0.0 {
        return 1.0;
    }
    let step = round_step(value, 5);
    (value / step * 0.999_999).ceil() * step
}

/// A value at a tick, with as many decimals as `step` needs.
pub(crate) fn tick_text(value: f64, step: f64) -> String {
    let decimals = (-maths::log10(step).floor()).clamp(0.0, 6.0) as usize;
    crate::html::figure(value, decimals)
}

/// From values to pixels.
pub(crate) struct Scale {
    low: f64,
    high: f64,
    from_px: f64,
    to_px: f64,
    log: bool,
}

impl Scale {
    /// Equal steps for equal differences. A span of nothing is widened.
    pub(crate) fn linear((low, high): (f64, f64), (from_px, to_px): (f64, f64)) -> Self {
        let (low, high) = match (low.is_finite(), high.is_finite()) {
            (true, true) if low < high => (low, high),
            (true, true) => (high.min(low) - 0.5, high.max(low) + 0.5),
            _ => (0.0, 1.0),
        };
        Self { low, high, from_px, to_px, log: false }
    }

    /// Equal steps for equal ratios; both ends above 0, else linear.
    pub(crate) fn logarithmic((low, high): (f64, f64), pixels: (f64, f64)) -> Self {
        if low > 0.0 && low < high && high.is_finite() {
            Self {
                log: true,
                low: maths::ln(low),
                high: maths::ln(high),
                ..Self::linear((0.0, 1.0), pixels)
            }
        } else {
            Self::linear((low, high), pixels)
        }
    }

    /// Where a value stands; what is beyond an end stands there, and at the first end what
    /// is no number.
    pub(crate) fn px(&self, value: f64) -> f64 {
        let value = if self.log { maths::ln(value.max(f64::MIN_POSITIVE)) } else { value };
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        let share = if share.is_nan() { 0.0 } else { share };
        self.from_px + (self.to_px - self.from_px) * share
    }

    /// At most about `most` round values within a linear scale, and their step.
    pub(crate) fn ticks(&self, most: usize) -> (Vec<f64>, f64) {
        let step = round_step(self.high - self.low, most);
        let first = (self.low / step - 1e-6).ceil() as i64;
        let last = (self.high / step + 1e-6).floor() as i64;
        ((first..=last).map(|k| k as f64 * step).collect(), step)
    }
}

/// At most two points for each of `columns` columns, the lowest and the highest, in their
/// order; then without those that a straight line replaces. Points go from left to right;
/// what is not a finite number is left out.
pub(crate) fn thinned(points: impl Iterator<Item = (f64, f64)>, columns: usize) -> Vec<(f64, f64)> {
    let points: Vec<(f64, f64)> = points.filter(|p| p.0.is_finite() && p.1.is_finite()).collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return points };
    if points.len() <= 2 * columns || last.0 <= first.0 {
        return straightened(&points);
    }
    let column = |x: f64| {
        ((x - first.0) / (last.0 - first.0) * columns as f64).min(columns as f64 - 0.5) as usize
    };
    let mut few = Vec::with_capacity(2 * columns + 2);
    few.push(*first);
    for own in points.chunk_by(|a, b| column(a.0) == column(b.0)) {
        let lower = |a: usize, b: usize| if own[b].1 < own[a].1 { b } else { a };
        let higher = |a: usize, b: usize| if own[b].1 > own[a].1 { b } else { a };
        let (low, high) = ((0..own.len()).fold(0, lower), (0..own.len()).fold(0, higher));
        few.push(own[low.min(high)]);
        if low != high {
            few.push(own[low.max(high)]);
        }
    }
    few.push(*last);
    straightened(&few)
}

/// Without the points that lie on a line between those that stay (D. H. Douglas and
/// T. K. Peucker, The Canadian Cartographer 10, 1973, from memory; off by height, for x is time).
fn straightened(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept = vec![false; points.len()];
    let Some(last) = points.len().checked_sub(1) else { return Vec::new() };
    (kept[0], kept[last]) = (true, true);
    let mut spans = vec![(0, last)];
    while let Some((from, to)) = spans.pop() {
        let ((x, y), (end_x, end_y)) = (points[from], points[to]);
        let slope = if end_x > x { (end_y - y) / (end_x - x) } else { 0.0 };
        let off = |k: usize| (points[k].1 - y - slope * (points[k].0 - x)).abs();
        let worst = (from + 1..to).max_by(|a, b| off(*a).total_cmp(&off(*b)));
        if let Some(worst) = worst.filter(|worst| off(*worst) > TOLERANCE_PX) {
            kept[worst] = true;
            spans.extend([(from, worst), (worst, to)]);
        }
    }
    points.iter().zip(kept).filter_map(|(point, kept)| kept.then_some(*point)).collect()
}

/// Points as the data of an SVG path, in tenths of a pixel, each relative to the last;
/// empty for no point.
pub(crate) fn path(points: &[(f64, f64)]) -> String {
    let tenths = |v: f64| (10.0 * v).round() as i64;
    let write = |out: &mut String, t: i64| {
        if t >= 0 && out.ends_with(|c: char| c.is_ascii_digit()) {
            out.push(' ');
        }
        // Writing to a String cannot fail.
        let _ = write!(out, "{}{}", if t < 0 { "-" } else { "" }, t.abs() / 10);
        if t % 10 != 0 {
            let _ = write!(out, ".{}", t.abs() % 10);
        }
    };
    let mut out = String::new();
    let mut at: Option<(i64, i64)> = None;
    for &(x, y) in points {
        let (x, y) = (tenths(x), tenths(y));
        let (from_x, from_y) = at.unwrap_or_default();
        if at.is_none() {
            out.push('M');
        } else if !out.contains('l') {
            out.push('l');
        }
        write(&mut out, x - from_x);
        write(&mut out, y - from_y);
        at = Some((x, y));
    }
    out
}

/// When a run's charts end, s: with the trace or the run, whichever is later.
pub(crate) fn end_s(run: &Run) -> f64 {
    let traced_s = run.trace.step_s * run.trace.angles_deg.len() as f64;
    let end_s = traced_s.max(run.total_s).max(1e-3);
    if end_s.is_finite() { end_s } else { 1e-3 }
}

/// The time scale of a run's charts, ms.
pub(crate) fn time_scale(run: &Run) -> Scale {
    Scale::linear((0.0, end_s(run) * 1e3), (LEFT, WIDTH - RIGHT))
}

/// Lines at round times over a plot, their figures and the axis's name below it.
pub(crate) fn time_axis(svg: &mut String, x: &Scale, top: f64, bottom: f64) {
    let (ticks, step) = x.ticks(14);
    for tick in ticks {
        let at = x.px(tick);
        let _ = write!(
            svg,
            "<line class=\"tick\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{top}\" y2=\"{:.1}\"/>\
             <text class=\"tick-name\" x=\"{at:.1}\" y=\"{:.1}\">{}</text>",
            bottom + 4.0,
            bottom + 18.0,
            tick_text(tick, step)
        );
    }
    let _ = write!(
        svg,
        "<text class=\"tick-name\" x=\"{:.1}\" y=\"{:.1}\">time from the start, ms</text>",
        (LEFT + WIDTH - RIGHT) / 2.0,
        bottom + 32.0
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_few() {
        for (span, most, step) in
            [(1.0, 10, 0.1), (0.7, 10, 0.1), (701.0, 14, 100.0), (30.0, 6, 5.0), (0.003, 3, 0.001)]
        {
            let found = round_step(span, most);
            assert!((found / step - 1.0).abs() < 1e-9, "{span} in {most}: {found}");
        }
        assert_eq!(round_step(f64::NAN, 4), 1.0);
        assert_eq!(round_step(0.0, 4), 1.0);
        assert!((round_up(0.23) - 0.25).abs() < 1e-12);
        assert_eq!(round_up(40.0), 40.0);
        assert_eq!(round_up(-3.0), 1.0);
    }

    #[test]
    fn scales_stay_finite() {
        let px = (10.0, 110.0);
        let same = Scale::linear((3.0, 3.0), px);
        assert_eq!(same.px(3.0), 60.0);
        assert_eq!(Scale::linear((f64::NAN, 1.0), px).px(9.0), 110.0);
        let log = Scale::logarithmic((1.0, 100.0), px);
        assert!((log.px(10.0) - 60.0).abs() < 1e-9);
        assert_eq!(log.px(0.0), 10.0);
        assert_eq!(Scale::logarithmic((0.0, 4.0), px).px(2.0), 60.0);
        let (ticks, step) = Scale::linear((-0.1, 1.0), px).ticks(5);
        assert_eq!((ticks.len(), step), (3, 0.5));
    }

    /// A spike of one sample in a million is still there, and where nothing moves two
    /// points are enough.
    #[test]
    fn thinning_keeps_spikes() {
        let spike = |k: usize| (k as f64 * 1e-3, if k == 654_321 { 40.0 } else { 10.0 });
        let few = thinned((0..1_000_000).map(spike), 400);
        assert!(few.len() <= 6, "{}", few.len());
        assert!(few.contains(&(654.321, 40.0)));
        assert_eq!((few[0], few[few.len() - 1]), (spike(0), spike(999_999)));
    }

    /// Nothing drawn is off by more than the tolerance from what was thinned.
    #[test]
    fn thinning_follows_the_line() {
        let wave = |k: usize| (k as f64, 40.0 * maths::sin(k as f64 * 0.02));
        let few = thinned((0..900).map(wave), 900);
        assert!(few.len() < 200, "{}", few.len());
        for k in 0..900 {
            let (x, y) = wave(k);
            let after = few.partition_point(|p| p.0 < x).max(1);
            let ((x0, y0), (x1, y1)) = (few[after - 1], few[after]);
            let drawn = y0 + (y1 - y0) * (x - x0) / (x1 - x0);
            assert!((drawn - y).abs() <= TOLERANCE_PX + 1e-9, "{x}: {drawn} {y}");
        }
        assert!(thinned(core::iter::empty(), 10).is_empty());
        let broken = [(0.0, 1.0), (1.0, f64::NAN), (2.0, 1.0)];
        assert_eq!(thinned(broken.into_iter(), 10), [(0.0, 1.0), (2.0, 1.0)]);
    }

    /// The path's steps add up to the points, to a tenth of a pixel.
    #[test]
    fn paths_are_relative() {
        assert_eq!(path(&[(1.0, 2.04), (3.5, 1.0), (3.6, 11.0)]), "M1 2l2.5-1 0.1 10");
        assert_eq!(path(&[(-0.04, 0.0)]), "M0 0");
        assert_eq!(path(&[]), "");
    }
}
