//! Bars of equal width, each with its count.

use maud::{Markup, Render, html};

use crate::charts::chart::{Chart, Plot};
use crate::charts::svg;

/// Most bars.
const MOST_BARS: f64 = 24.0;
/// Width of a bar, px, and of the room beside all.
const BAR: f64 = 30.0;
const BESIDE: f64 = 20.0;

/// A histogram of values; nothing where there are none. `title` names it, `axis`
/// what the values are.
pub(crate) fn draw(values: &[f64], title: &str, axis: &str) -> Markup {
    let first = values.iter().copied().fold(f64::INFINITY, f64::min);
    let last = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if first > last {
        return html! {};
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
    let right = BESIDE + BAR * bins as f64;
    let plot = Plot { left: BESIDE, right, top: 14.0, bottom: 124.0 };
    let mut chart = Chart::new("histogram", title, plot, (BESIDE, 36.0)).fixed();
    for (i, &count) in counts.iter().enumerate() {
        let x = plot.left + BAR * i as f64;
        let figure = if count > 0 { count.to_string() } else { String::new() };
        chart.column((x, BAR), (count, most), &figure);
        if i % 2 == 0 {
            let figure = ((from + i as f64) * step).to_string();
            chart.draw(svg::text("", (x, plot.bottom + 16.0), &figure));
        }
    }
    chart.draw(svg::text("", (plot.middle(), plot.bottom + 32.0), axis));
    chart.render()
}
