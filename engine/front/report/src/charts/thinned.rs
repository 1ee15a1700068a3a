//! Lines with no more points than can be told apart.

use core::fmt::Write as _;

use maud::Markup;

use crate::charts::svg;

/// How far a thinned line may be off, px.
const TOLERANCE_PX: f64 = 0.2;

/// At most two points for each of `columns` columns, the lowest and the highest, in their
/// order; then without those that a straight line replaces. Points go from left to right;
/// what is not a finite number is left out.
pub(crate) fn points(points: impl Iterator<Item = (f64, f64)>, columns: usize) -> Vec<(f64, f64)> {
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

/// A line through points that are thinned; its class is `first`, drawn solid, or `second`,
/// dashed.
pub(crate) fn line(
    class: &str,
    through: impl Iterator<Item = (f64, f64)>,
    columns: usize,
    title: &str,
) -> Markup {
    svg::path(&format!("line {class}"), &path(&points(through, columns)), title)
}

#[cfg(test)]
mod tests {
    use dryturn_units::maths;

    use super::*;

    /// A spike of one sample in a million is still there, and where nothing moves two
    /// points are enough.
    #[test]
    fn thinning_keeps_spikes() {
        let spike = |k: usize| (k as f64 * 1e-3, if k == 654_321 { 40.0 } else { 10.0 });
        let few = points((0..1_000_000).map(spike), 400);
        assert!(few.len() <= 6, "{}", few.len());
        assert!(few.contains(&(654.321, 40.0)));
        assert_eq!((few[0], few[few.len() - 1]), (spike(0), spike(999_999)));
    }

    /// Nothing drawn is off by more than the tolerance from what was thinned.
    #[test]
    fn thinning_follows_the_line() {
        let wave = |k: usize| (k as f64, 40.0 * maths::sin(k as f64 * 0.02));
        let few = points((0..900).map(wave), 900);
        assert!(few.len() < 200, "{}", few.len());
        for k in 0..900 {
            let (x, y) = wave(k);
            let after = few.partition_point(|p| p.0 < x).max(1);
            let ((x0, y0), (x1, y1)) = (few[after - 1], few[after]);
            let drawn = y0 + (y1 - y0) * (x - x0) / (x1 - x0);
            assert!((drawn - y).abs() <= TOLERANCE_PX + 1e-9, "{x}: {drawn} {y}");
        }
        assert!(points(core::iter::empty(), 10).is_empty());
        let broken = [(0.0, 1.0), (1.0, f64::NAN), (2.0, 1.0)];
        assert_eq!(points(broken.into_iter(), 10), [(0.0, 1.0), (2.0, 1.0)]);
    }

    /// The path's steps add up to the points, to a tenth of a pixel.
    #[test]
    fn paths_are_relative() {
        assert_eq!(path(&[(1.0, 2.04), (3.5, 1.0), (3.6, 11.0)]), "M1 2l2.5-1 0.1 10");
        assert_eq!(path(&[(-0.04, 0.0)]), "M0 0");
        assert_eq!(path(&[]), "");
    }
}
