//! Two plans on two timings: one table, one chart, and how the savings are spread.

use core::fmt::Write as _;

use dryturn_studies::{Ended, RigComparison, Saving, WAYS};

use crate::html::{Escaped, figure};
use crate::page::POINTER;
use crate::{histogram, stacked, table};

/// What the four ways are called in the chart.
const LETTERS: [&str; 4] = ["A", "B", "C", "D"];

pub(crate) fn section(comparison: &RigComparison) -> String {
    let all = comparison.cubes.len();
    let compared = comparison.compared().count();
    let mut out = format!(
        "<section class=\"comparison\"><h2>From start to stop, with and without plan and timing for \
         {}</h2>{POINTER}<p>{compared} of {all} random cubes, each turned all four ways with the same \
         luck. Where a way jams or is stopped the cube is left out of all four. Execution is \
         simulated; the other parts are modelled from the scenes' figures, and a search costs the nodes \
         that it really spent.</p>",
        Escaped(&comparison.tuned.file().name)
    );
    if compared == 0 {
        out.push_str("<p>No cube was completed all four ways.</p></section>");
        return out;
    }
    ways(&mut out, comparison);
    chart(&mut out, comparison);
    savings(&mut out, comparison);
    out.push_str("</section>");
    out
}

fn ways(out: &mut String, comparison: &RigComparison) {
    let parts = (0..WAYS.len()).map(|way| comparison.parts(way)).collect::<Vec<_>>();
    let mut headings = vec!["way".to_owned(), "mean, ms".to_owned(), "median, ms".to_owned()];
    headings.extend(parts[0].iter().map(|(name, _)| format!("{name}, ms")));
    headings.extend(["jammed", "stopped"].map(str::to_owned));
    let cells = |way: usize| {
        let ms = |seconds: f64| figure(seconds * 1e3, 1);
        let mut cells = vec![
            format!("{}: {}", LETTERS[way], WAYS[way]),
            ms(comparison.mean_s(way)),
            ms(comparison.median_s(way).unwrap_or(f64::NAN)),
        ];
        cells.extend(parts[way].iter().map(|(_, seconds)| ms(*seconds)));
        cells.push(comparison.count(way, Ended::Jammed).to_string());
        cells.push(comparison.count(way, Ended::Stopped).to_string());
        cells
    };
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    table::draw(out, "figures", &headings, (0..WAYS.len()).map(cells));
}

fn chart(out: &mut String, comparison: &RigComparison) {
    let names = comparison.parts(0).map(|(name, _)| name.to_owned());
    let row = |way: usize| {
        let parts = comparison.parts(way).map(|(_, seconds)| seconds * 1e3);
        (LETTERS[way].to_owned(), parts.to_vec())
    };
    let rows: Vec<_> = (0..WAYS.len()).map(row).collect();
    let title = "From the start button to the last stop, four ways";
    let _ = write!(
        out,
        "<figure>{}<figcaption>{}.</figcaption></figure>",
        stacked::draw(title, "mean time from the start button, ms", &names, &rows, &[]),
        LETTERS
            .iter()
            .zip(WAYS)
            .map(|(l, way)| format!("{l}: {way}"))
            .collect::<Vec<_>>()
            .join("; ")
    );
}

fn savings(out: &mut String, comparison: &RigComparison) {
    let cells = |saving: &Saving| {
        let row = |(value, (low, high)): (f64, (f64, f64)), times: f64| {
            let of = |value: f64| figure(value * times, 1);
            [of(value), format!("{} to {}", of(low), of(high))]
        };
        let [ms, ms_interval] = row(saving.saved_s, 1e3);
        let [percent, percent_interval] = row(saving.percent, 1.0);
        vec![saving.what.to_owned(), ms, ms_interval, percent, percent_interval]
    };
    out.push_str("<h3>What is saved</h3>");
    let headings = ["by", "saved, ms", "95 % interval, ms", "% of A's mean", "95 % interval, %"];
    table::draw(out, "figures", &headings, comparison.savings.iter().map(cells));
    out.push_str(
        "<p class=\"aside\">Means over the cubes, with paired bootstrap intervals of 10,000 resamples. \
         The shares are means over both orders, plan first and timing first, and add up to the \
         whole.</p>",
    );
    let saved = |cube: &dryturn_studies::ComparedCube| {
        let totals = cube.totals_s();
        (totals[0] - totals[3]) * 1e3
    };
    let saved: Vec<f64> = comparison.compared().map(saved).collect();
    let axis = "saved from A to D, ms (bars: cubes)";
    out.push_str(&histogram::draw(&saved, "How the savings are spread", axis));
}
