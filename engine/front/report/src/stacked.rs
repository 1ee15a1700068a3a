//! Bars made of parts laid end to end.

use core::fmt::Write as _;

use crate::html::{Escaped, figure};
use crate::plot::{LEFT, RIGHT, Scale, WIDTH, tick_text};

/// Height of a bar and space between bars, px.
const BAR: f64 = 22.0;
const BETWEEN: f64 = 6.0;
/// Room above the bars for the names of levels, px.
const TOP: f64 = 20.0;
/// Parts' names in a row below, px apart.
const LEGEND: f64 = 172.0;

/// Rows of parts, each row with its name, over an axis; `levels` are marked across all.
/// The parts' names are written below.
pub(crate) fn draw(
    title: &str,
    axis: &str,
    names: &[String],
    rows: &[(String, Vec<f64>)],
    levels: &[(f64, String)],
) -> String {
    let part = |value: &f64| if value.is_finite() { value.max(0.0) } else { 0.0 };
    let sums = rows.iter().map(|(_, values)| values.iter().map(part).sum::<f64>());
    let most = sums.chain(levels.iter().map(|level| level.0 * 1.1)).fold(0.0, f64::max);
    let x = Scale::linear((0.0, if most > 0.0 { most } else { 1.0 }), (LEFT, WIDTH - RIGHT));
    let bottom = TOP + rows.len() as f64 * (BAR + BETWEEN);
    let height = bottom + 62.0;
    let mut svg = format!(
        "<svg class=\"stacked\" viewBox=\"0 0 {WIDTH} {height:.0}\" role=\"img\"><title>{}</title>",
        Escaped(title)
    );
    let (ticks, step) = x.ticks(12);
    for tick in ticks {
        let at = x.px(tick);
        // Writing to a String cannot fail.
        let _ = write!(
            svg,
            "<line class=\"tick\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{TOP}\" y2=\"{:.1}\"/>\
             <text class=\"tick-name\" x=\"{at:.1}\" y=\"{:.1}\">{}</text>",
            bottom + 2.0,
            bottom + 15.0,
            tick_text(tick, step)
        );
    }
    let _ = write!(
        svg,
        "<text class=\"tick-name\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        (LEFT + WIDTH - RIGHT) / 2.0,
        bottom + 30.0,
        Escaped(axis)
    );
    for (k, (name, values)) in rows.iter().enumerate() {
        let y = TOP + k as f64 * (BAR + BETWEEN) + BETWEEN / 2.0;
        let _ = write!(
            svg,
            "<text class=\"lane-name\" x=\"20\" y=\"{:.1}\">{}</text>",
            y + BAR / 2.0 + 5.0,
            Escaped(name)
        );
        let mut sum = 0.0;
        for (number, (value, what)) in values.iter().zip(names).enumerate() {
            let from = x.px(sum);
            sum += part(value);
            let _ = write!(
                svg,
                "<rect class=\"part{number}\" x=\"{from:.1}\" y=\"{y:.1}\" width=\"{:.1}\" \
                 height=\"{BAR}\"><title>{}: {}</title></rect>",
                (x.px(sum) - from).max(0.0),
                Escaped(what),
                figure(*value, 2)
            );
        }
    }
    for (k, (value, name)) in levels.iter().enumerate() {
        let at = x.px(*value);
        // The first one's name to its left where there is room, so that names keep apart.
        let anchor = if k == 0 && levels.len() > 1 && at > LEFT + 140.0 { "end" } else { "start" };
        let _ = write!(
            svg,
            "<line class=\"limit\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{:.1}\" y2=\"{bottom:.1}\"/>\
             <text class=\"limit-name\" text-anchor=\"{anchor}\" x=\"{at:.1}\" y=\"{:.1}\">{}</text>",
            TOP - 4.0,
            TOP - 7.0,
            Escaped(name)
        );
    }
    for (number, what) in names.iter().enumerate() {
        let (left, y) = (LEFT + LEGEND * number as f64, bottom + 54.0);
        let _ = write!(
            svg,
            "<rect class=\"part{number}\" x=\"{left:.1}\" y=\"{:.1}\" width=\"12\" height=\"12\"/>\
             <text class=\"legend\" x=\"{:.1}\" y=\"{y:.1}\">{}</text>",
            y - 10.0,
            left + 17.0,
            Escaped(what)
        );
    }
    svg.push_str("</svg>");
    svg
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_add_up_and_stay_numbers() {
        let rows = [("U".to_owned(), vec![1.0, 3.0]), ("R".to_owned(), vec![f64::NAN, -1.0])];
        let svg =
            draw("t", "s", &["a<".to_owned(), "b".to_owned()], &rows, &[(2.0, "limit".to_owned())]);
        assert!(svg.contains("a&lt;") && svg.contains("limit"));
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        // The longest row fills the width: a quarter and three quarters of 1000 px.
        assert!(svg.contains("width=\"250.0\"") && svg.contains("width=\"750.0\""), "{svg}");
        assert!(!draw("t", "s", &[], &[], &[]).contains("NaN"));
    }
}
