//! Bars of equal width, each with its count.

use core::fmt::Write as _;

use crate::html::Escaped;

/// Most bars.
const MOST_BARS: f64 = 24.0;

/// A histogram of values; nothing where there are none. `title` names it, `axis`
/// what the values are.
pub(crate) fn draw(values: &[f64], title: &str, axis: &str) -> String {
    let first = values.iter().copied().fold(f64::INFINITY, f64::min);
    let last = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if first > last {
        return String::new();
    }
    let steps = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];
    let step = steps.into_iter().find(|step| (last - first) / step <= MOST_BARS).unwrap_or(5000.0);
    let from = (first / step).floor();
    let bins = ((last / step).floor() - from) as usize + 1;
    let mut counts = vec![0usize; bins];
    for value in values {
        counts[((value / step).floor() - from) as usize] += 1;
    }
    let most = counts.iter().copied().max().unwrap_or(1).max(1);
    let (bar, height) = (30.0, 110.0);
    let width = bar * bins as f64 + 40.0;
    let mut out = format!(
        "<svg class=\"histogram\" viewBox=\"0 0 {width} {}\" width=\"{width}\" role=\"img\">\
         <title>{}</title>",
        height + 50.0,
        Escaped(title)
    );
    for (i, &count) in counts.iter().enumerate() {
        let x = 20.0 + bar * i as f64;
        let h = height * count as f64 / most as f64;
        // Writing to a String cannot fail.
        let _ = write!(
            out,
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{}\" height=\"{h:.1}\"/>\
             <text x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            x + 1.0,
            height + 14.0 - h,
            bar - 2.0,
            x + bar / 2.0,
            height + 10.0 - h,
            if count > 0 { count.to_string() } else { String::new() },
        );
        if i % 2 == 0 {
            let _ = write!(
                out,
                "<text x=\"{x:.1}\" y=\"{:.1}\">{}</text>",
                height + 30.0,
                (from + i as f64) * step
            );
        }
    }
    let _ = write!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\">{}</text></svg>",
        width / 2.0,
        height + 46.0,
        Escaped(axis)
    );
    out
}
