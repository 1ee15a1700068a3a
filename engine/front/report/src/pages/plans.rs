//! Many plans on one page: how long they are, and what more search would save.

use dryturn_statistics::mean;
use maud::{Markup, html};

use super::shell;
use crate::charts::histogram;
use crate::html::table;
use crate::sections::cautions;

/// What a search had on average after so many nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Search nodes per state.
    pub nodes: u64,
    /// Mean of the best plan's objective by then: turns, or machine time in quarter
    /// turns.
    pub cost: f64,
    /// Time the nodes take, ms; `None` where nothing says how quick the search is.
    pub search_ms: Option<f64>,
    /// Machine time saved against the first plan less the time to find it, ms;
    /// `None` without a drive or without a search time.
    pub gain_ms: Option<f64>,
}

/// What was planned.
#[derive(Clone, Debug, Default)]
pub struct PlanSurvey {
    /// In words: objective, tables, budget.
    pub what: String,
    /// Turns of each plan.
    pub turns: Vec<f64>,
    /// Beats of each plan.
    pub beats: Vec<f64>,
    /// Machine time of each plan, in quarter turns.
    pub costs: Vec<f64>,
    /// Predicted time of each plan, ms; empty without a drive.
    pub times_ms: Vec<f64>,
    /// The same of the textbook plans.
    pub textbook_costs: Vec<f64>,
    /// By nodes, ascending.
    pub curve: Vec<CurvePoint>,
}

/// One self-contained HTML page about many plans.
#[must_use]
pub fn plans_page(survey: &PlanSurvey) -> String {
    let parts = [
        (&survey.turns, "turns (half turns as one)"),
        (&survey.beats, "beats"),
        (&survey.costs, "machine time in quarter turns"),
        (&survey.times_ms, "predicted time, ms"),
        (&survey.textbook_costs, "machine time of the textbook plans"),
    ];
    let sections = html! {
        @for (values, axis) in parts.into_iter().filter(|(values, _)| !values.is_empty()) {
            @let most = values.iter().copied().fold(0.0, f64::max);
            section {
                h2 { (axis) }
                p { (format!("mean {:.2}, most {most:.2}", mean(values))) }
                (histogram::draw(values, axis, &format!("{axis} (bars: plans)")))
            }
        }
        @if !survey.curve.is_empty() { (curve(&survey.curve)) }
        (cautions::section())
    };
    shell::page(&format!("{} plans", survey.turns.len()), &survey.what, &sections)
}

fn curve(points: &[CurvePoint]) -> Markup {
    let best = points.iter().filter_map(|point| point.gain_ms).fold(f64::MIN, f64::max);
    let cells = |point: &CurvePoint| {
        let gain =
            |gain: f64| format!("{gain:.1}{}", if gain == best { " ← stop here" } else { "" });
        vec![
            point.nodes.to_string(),
            format!("{:.2}", point.cost),
            point.search_ms.map_or("·".to_owned(), |ms| format!("{ms:.1}")),
            point.gain_ms.map_or("·".to_owned(), gain),
        ]
    };
    let headings = [
        "nodes",
        "mean of the objective",
        "search, ms",
        "saved against the first plan, less the search, ms",
    ];
    html! {
        section {
            h2 { "What more search saves" }
            p {
                "The clock that counts runs from the start button to the last stop: search is worth \
                 its time only while it saves more than it takes."
            }
            (table::draw("", &headings, points.iter().map(cells)))
        }
    }
}
