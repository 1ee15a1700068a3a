//! Two plans on two timings: one table, one chart, and how the savings are spread.

use dryturn_studies::{ComparedCube, Ended, MeanAndInterval, RigComparison, Saving, WAYS};
use maud::{Markup, html};

use crate::charts::{histogram, stacked};
use crate::html::figures::{between, figure, ms};
use crate::html::table;
use crate::sections::cautions;

/// What the four ways are called in the chart.
const LETTERS: [&str; 4] = ["A", "B", "C", "D"];

pub(crate) fn section(comparison: &RigComparison) -> Markup {
    let all = comparison.cubes.len();
    let compared = comparison.compared().count();
    html! {
        section.comparison {
            h2 {
                "From start to stop, with and without plan and timing for "
                (comparison.tuned.file().name)
            }
            (cautions::pointer())
            p {
                (compared) " of " (all) " random cubes, each turned all four ways with the same \
                 luck. Where a way jams or is stopped the cube is left out of all four. Execution \
                 is simulated; the other parts are modelled from the scenes' figures, and a search \
                 costs the nodes that it really spent."
            }
            @if compared == 0 {
                p { "No cube was completed all four ways." }
            } @else {
                (ways(comparison))
                (chart(comparison))
                (savings(comparison))
            }
        }
    }
}

/// The letter and the words of a way.
fn way_name(way: usize) -> String {
    format!("{}: {}", LETTERS[way], WAYS[way])
}

fn ways(comparison: &RigComparison) -> Markup {
    let parts = (0..WAYS.len()).map(|way| comparison.parts(way)).collect::<Vec<_>>();
    let mut headings = vec!["way".to_owned(), "mean, ms".to_owned(), "median, ms".to_owned()];
    headings.extend(parts[0].iter().map(|(name, _)| format!("{name}, ms")));
    headings.extend(["jammed", "stopped"].map(str::to_owned));
    let cells = |way: usize| {
        let mut cells = vec![
            way_name(way),
            ms(comparison.mean_s(way)),
            ms(comparison.median_s(way).unwrap_or(f64::NAN)),
        ];
        cells.extend(parts[way].iter().map(|(_, seconds)| ms(*seconds)));
        cells.push(comparison.count(way, Ended::Jammed).to_string());
        cells.push(comparison.count(way, Ended::Stopped).to_string());
        cells
    };
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    table::draw("figures", &headings, (0..WAYS.len()).map(cells))
}

fn chart(comparison: &RigComparison) -> Markup {
    let names = comparison.parts(0).map(|(name, _)| name.to_owned());
    let row = |way: usize| {
        let parts = comparison.parts(way).map(|(_, seconds)| seconds * 1e3);
        (LETTERS[way].to_owned(), parts.to_vec())
    };
    let rows: Vec<_> = (0..WAYS.len()).map(row).collect();
    let title = "From the start button to the last stop, four ways";
    let named: Vec<String> = (0..WAYS.len()).map(way_name).collect();
    html! {
        figure {
            (stacked::draw(title, "mean time from the start button, ms", &names, &rows, &[]))
            figcaption { (named.join("; ")) "." }
        }
    }
}

fn savings(comparison: &RigComparison) -> Markup {
    let cells = |saving: &Saving| {
        let row = |(value, (low, high)): MeanAndInterval, times: f64| {
            [figure(value * times, 1), between((low * times, high * times), 1)]
        };
        let [ms, ms_interval] = row(saving.saved_s, 1e3);
        let [percent, percent_interval] = row(saving.percent, 1.0);
        vec![saving.what.to_owned(), ms, ms_interval, percent, percent_interval]
    };
    let headings = ["by", "saved, ms", "95 % interval, ms", "% of A's mean", "95 % interval, %"];
    let saved_ms = |cube: &ComparedCube| {
        let totals = cube.totals_s();
        (totals[0] - totals[3]) * 1e3
    };
    let saved_ms: Vec<f64> = comparison.compared().map(saved_ms).collect();
    let axis = "saved from A to D, ms (bars: cubes)";
    html! {
        h3 { "What is saved" }
        (table::draw("figures", &headings, comparison.savings.iter().map(cells)))
        p.aside {
            "Means over the cubes, with paired bootstrap intervals of 10,000 resamples. The shares \
             are means over both orders, plan first and timing first, and add up to the whole."
        }
        (histogram::draw(&saved_ms, "How the savings are spread", axis))
    }
}
