//! Time over search budgets.

use core::fmt::Write as _;

use dryturn_studies::{BudgetPoint, MeanAndInterval, SearchBudgets};

use crate::html::{Escaped, figure};
use crate::kinds::TOTAL;
use crate::marks::{self, Axis, Mark, Series};
use crate::{plot, table};

pub(crate) fn section(budgets: &SearchBudgets) -> String {
    let mut out = format!(
        "<section class=\"sweep\"><h2>How long to search a plan for {}</h2><p>{} random cubes, the \
         same for every budget. Search takes the nodes that were really spent, at the host's speed; it \
         always goes on to a first plan. Execution is predicted, without errors. Least in all: a \
         budget of {} nodes.</p><figure>",
        Escaped(&budgets.scene.file().name),
        budgets.cubes,
        budgets.best_nodes()
    );
    let ms = |(mean, (low, high)): MeanAndInterval| (mean * 1e3, (low * 1e3, high * 1e3));
    let mark = |point: &BudgetPoint| {
        let (value, interval) = ms(point.over_best_s);
        let title = format!("{} nodes: {} ms more", point.budget, figure(value, 1));
        Mark { at: point.budget as f64, value, interval: Some(interval), title }
    };
    let shown: Vec<Mark> = budgets.points.iter().map(mark).collect();
    let ends = || shown.iter().filter_map(|mark| mark.interval);
    let least = ends().map(|(low, _)| low).fold(0.0, f64::min);
    let most = ends().map(|(_, high)| high).fold(0.0, f64::max);
    let step = plot::round_step((most - least).max(1.0), 4);
    let range = ((least / step).floor() * step, (most / step).ceil() * step);
    let heading = "Search and execution together, ms more than at the best budget";
    let values: Vec<f64> = shown.iter().map(|mark| mark.at).collect();
    let series = [Series { style: TOTAL, marks: shown }];
    let axis = Axis { setting: "budget, nodes", values: &values, names: &[] };
    marks::draw(&mut out, &axis, (heading, range, 180.0), &series);
    out.push_str(
        "<figcaption>Bars: 95 % bootstrap intervals of the mean difference on the same \
         cubes.</figcaption></figure>",
    );
    let cells = |point: &BudgetPoint| {
        let (total, (low, high)) = ms(point.total_s);
        let (over, (over_low, over_high)) = ms(point.over_best_s);
        let to = |low, high| format!("{} to {}", figure(low, 1), figure(high, 1));
        vec![
            point.budget.to_string(),
            figure(point.nodes, 0),
            figure(point.search_s * 1e3, 1),
            figure(point.execution_s * 1e3, 1),
            figure(total, 1),
            to(low, high),
            figure(over, 1),
            to(over_low, over_high),
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
    table::draw(&mut out, "figures", &headings, budgets.points.iter().map(cells));
    let _ = write!(out, "</section>");
    out
}
