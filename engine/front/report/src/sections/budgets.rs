//! Time over search budgets.

use dryturn_studies::{BudgetPoint, MeanAndInterval, SearchBudgets};
use maud::{Markup, html};

use crate::charts::series::{self, Axis, Mark, Series};
use crate::charts::styles::TOTAL;
use crate::html::figures::{between, figure, ms};
use crate::html::table;

/// Height of the plot, px.
const HEIGHT: f64 = 180.0;

pub(crate) fn section(budgets: &SearchBudgets) -> Markup {
    html! {
        section.sweep {
            h2 { "How long to search a plan for " (budgets.scene.file().name) }
            p {
                (budgets.cubes) " random cubes, the same for every budget. Search takes the nodes \
                 that were really spent, at the host's speed; it always goes on to a first plan. \
                 Execution is predicted, without errors. Least in all: a budget of "
                (budgets.best_nodes()) " nodes."
            }
            figure {
                (plot(budgets))
                figcaption {
                    "Bars: 95 % bootstrap intervals of the mean difference on the same cubes."
                }
            }
            (rows(budgets))
        }
    }
}

fn in_ms((mean, (low, high)): MeanAndInterval) -> MeanAndInterval {
    (mean * 1e3, (low * 1e3, high * 1e3))
}

fn plot(budgets: &SearchBudgets) -> Markup {
    let mark = |point: &BudgetPoint| {
        let (value, interval) = in_ms(point.over_best_s);
        let title = format!("{} nodes: {} ms more", point.budget, figure(value, 1));
        Mark { at: point.budget as f64, value, interval: Some(interval), title }
    };
    let marks: Vec<Mark> = budgets.points.iter().map(mark).collect();
    let ends = || marks.iter().filter_map(|mark| mark.interval);
    let least = ends().map(|(low, _)| low).fold(0.0, f64::min);
    let most = ends().map(|(_, high)| high).fold(0.0, f64::max);
    let range = series::whole_steps((least, most), 1.0, 4);
    let heading = "Search and execution together, ms more than at the best budget";
    let values: Vec<f64> = marks.iter().map(|mark| mark.at).collect();
    let axis = Axis { setting: "budget, nodes", values: &values, names: &[] };
    series::draw(&axis, (heading, range, HEIGHT), &[Series { style: TOTAL, marks }])
}

fn rows(budgets: &SearchBudgets) -> Markup {
    let cells = |point: &BudgetPoint| {
        let (total, total_interval) = in_ms(point.total_s);
        let (over, over_interval) = in_ms(point.over_best_s);
        vec![
            point.budget.to_string(),
            figure(point.nodes, 0),
            ms(point.search_s),
            ms(point.execution_s),
            figure(total, 1),
            between(total_interval, 1),
            figure(over, 1),
            between(over_interval, 1),
        ]
    };
    let headings = [
        "budget, nodes",
        "spent, mean",
        "search, ms",
        "execution, ms",
        "both, ms",
        "95 % interval, ms",
        "over the best, ms",
        "95 % interval (paired), ms",
    ];
    table::draw("figures", &headings, budgets.points.iter().map(cells))
}
