//! Bars made of parts laid end to end.

use maud::{Markup, Render, html};

use crate::charts::chart::{Below, Chart, Plot};
use crate::charts::svg;
use crate::html::figures::figure;

/// Height of a bar and space between bars, px.
const BAR: f64 = 22.0;
const BETWEEN: f64 = 6.0;
/// Room above the bars for the names of levels, px.
const TOP: f64 = 20.0;

const LAYOUT: Below = Below { across: true, end: 2.0, figures: 15.0, name: 30.0 };
/// The parts' names stand so far below the bars, px, and need so much room.
const LEGEND: f64 = 54.0;
const ROOM: f64 = 62.0;

/// Rows of parts, each row with its name, over an axis; `levels` are marked across all.
/// The parts' names are written below.
pub(crate) fn draw(
    title: &str,
    axis: &str,
    names: &[String],
    rows: &[(String, Vec<f64>)],
    levels: &[(f64, String)],
) -> Markup {
    let part = |value: &f64| if value.is_finite() { value.max(0.0) } else { 0.0 };
    let sums = rows.iter().map(|(_, values)| values.iter().map(part).sum::<f64>());
    let most = sums.chain(levels.iter().map(|level| level.0 * 1.1)).fold(0.0, f64::max);
    let plot = Plot::wide(TOP, rows.len() as f64 * (BAR + BETWEEN));
    let x = plot.across((0.0, if most > 0.0 { most } else { 1.0 }), 0.0);
    let mut chart = Chart::wide("stacked", title, plot, ROOM);
    chart.axis_below(&LAYOUT, &x, 12, axis);
    for (k, (name, values)) in rows.iter().enumerate() {
        let y = TOP + k as f64 * (BAR + BETWEEN) + BETWEEN / 2.0;
        chart.draw(svg::text("lane-name", (20.0, y + BAR / 2.0 + 5.0), name));
        let mut sum = 0.0;
        for (number, (value, what)) in values.iter().zip(names).enumerate() {
            let from = x.px(sum);
            sum += part(value);
            let size = ((x.px(sum) - from).max(0.0), BAR);
            let title = format!("{what}: {}", figure(*value, 2));
            chart.draw(svg::rect(&format!("part{number}"), (from, y), size, &title));
        }
    }
    for (k, (value, name)) in levels.iter().enumerate() {
        let at = x.px(*value);
        // The first one's name to its left where there is room, so that names keep apart.
        let left = k == 0 && levels.len() > 1 && at > plot.left + 140.0;
        let anchor = if left { "end" } else { "start" };
        chart.draw(html! {
            (svg::upright("limit", at, (TOP - 4.0, plot.bottom), ""))
            (svg::anchored("limit-name", anchor, (at, TOP - 7.0), name))
        });
    }
    chart.legend(LEGEND, names);
    chart.render()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_add_up_and_stay_numbers() {
        let rows = [("U".to_owned(), vec![1.0, 3.0]), ("R".to_owned(), vec![f64::NAN, -1.0])];
        let names = ["a<".to_owned(), "b".to_owned()];
        let svg = draw("t", "s", &names, &rows, &[(2.0, "limit".to_owned())]).into_string();
        assert!(svg.contains("a&lt;") && svg.contains("limit"));
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        // The longest row fills the width: a quarter and three quarters of 1000 px.
        assert!(svg.contains("width=\"250\"") && svg.contains("width=\"750\""), "{svg}");
        assert!(!draw("t", "s", &[], &[], &[]).into_string().contains("NaN"));
    }
}
