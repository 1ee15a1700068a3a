//! `dryturn plan --random N`: how the plans of many states are spread.

use std::time::{Duration, Instant};

use dryturn_cube::CubeState;
use dryturn_driving::Timing;
use dryturn_planning::{Objective, Planned};
use dryturn_record::documents::{
    CurveRow, Document, MeanMax, OneMean, PlanDocument, PlansRecord, SearchMs, Spread,
    TextbookMeans, TurnSpread,
};
use dryturn_rehearsal::Rehearser;
use dryturn_report::{CurvePoint, PlanSurvey, plans_page};
use dryturn_statistics::mean;
use indicatif::ProgressBar;

use crate::commands::plan::{PlanArgs, Setting, within};
use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::say;
use crate::shared::Shared;

/// What is added up over the states.
#[derive(Default)]
struct Sums {
    survey: PlanSurvey,
    textbook_turns: Vec<f64>,
    solved: usize,
    proved: usize,
    nodes: u64,
    searching: Duration,
    first_plan: Duration,
    /// For each state: nodes and cost of each better plan.
    improvements: Vec<Vec<(u64, f64)>>,
}

fn most(values: &[f64]) -> f64 {
    values.iter().copied().fold(0.0, f64::max)
}

/// How often each whole number comes: `{"18": 12, …}`.
fn spread(values: &[f64]) -> Spread {
    let mut counts = Spread::new();
    let number = |value: &f64| (*value as u64).to_string();
    values.iter().for_each(|value| *counts.entry(number(value)).or_insert(0) += 1);
    counts
}

pub(crate) fn run(
    args: &PlanArgs,
    setting: &Setting,
    count: u64,
    shared: &Shared,
) -> Result<u8, Failure> {
    let out = Out::open(shared, &["plans.json", "plans.html"])?;
    let rehearser = Rehearser::new(shared.seed);
    let bar = say::bar(ProgressBar::new(count));
    let mut sums = Sums::default();
    for trial in 0..count {
        one(args, setting, &rehearser.random_cube(trial), &mut sums);
        bar.inc(1);
    }
    bar.finish_and_clear();
    // Speed of the search, nodes/ms: the scene's host, or this machine where asked.
    let measured = sums.nodes as f64 / (sums.searching.as_secs_f64() * 1e3).max(1e-9);
    let host = setting.scene.as_deref().map(|scene| scene.file().host.search_nodes_per_ms);
    let speed = if shared.timings { Some(measured) } else { host };
    sums.survey.curve = curve(setting, &sums, speed);
    sums.survey.what = format!(
        "Random states; objective {}; {} tables; {:.0} nodes a state.",
        match setting.objective {
            Objective::FewestTurns => "fewest turns".to_owned(),
            Objective::LeastTime(w) =>
                format!("least machine time, quarter to half turns as {} to {}", w.quarter, w.half),
        },
        setting.served.word(),
        sums.nodes as f64 / count as f64
    );
    let mut record = record(setting, count, &sums);
    if shared.timings {
        let each = 1e3 / count as f64;
        record.nodes_per_s = Some(measured * 1e3);
        record.search_ms = Some(SearchMs {
            mean: sums.searching.as_secs_f64() * each,
            first_plan: sums.first_plan.as_secs_f64() * each,
        });
    }
    let document = issued(Document::Plan(Box::new(PlanDocument::Many(record.clone()))));
    let page = [("plans.html", plans_page(&sums.survey))];
    out.keep_all(&document, "plans.json", &page)?;
    if shared.json {
        say::document(&document)?;
    } else {
        print(&record)?;
        let (states, seconds) = (count as f64, sums.searching.as_secs_f64());
        say::message(&format!(
            "search: {:.1} ms a state, first plan after {:.1} ms; {:.2} million nodes/s",
            seconds * 1e3 / states,
            sums.first_plan.as_secs_f64() * 1e3 / states,
            measured / 1e3
        ));
    }
    if sums.solved as u64 == count {
        return Ok(0);
    }
    Err(Failure::ours(format!("{} of {count} plans solve their state", sums.solved)))
}

fn one(args: &PlanArgs, setting: &Setting, state: &CubeState, sums: &mut Sums) {
    let started = Instant::now();
    let mut improvements = Vec::new();
    let mut first_plan = None;
    let planned: Planned = within(args, |budget| {
        setting.planner.search(state, setting.objective, budget, &mut |better| {
            first_plan.get_or_insert_with(|| started.elapsed());
            improvements.push((better.nodes, setting.cost_of(better.cost)));
            core::ops::ControlFlow::Continue(())
        })
    });
    sums.searching += started.elapsed();
    if improvements.is_empty() {
        // Stopped before its first plan: the textbook's came instead.
        improvements.push((planned.nodes, setting.cost_of(planned.cost)));
    }
    sums.first_plan += first_plan.unwrap_or_else(|| started.elapsed());
    sums.nodes += planned.nodes;
    sums.proved += usize::from(planned.proved());
    let plan = &planned.plan;
    // By turning a cube, not by what the search says.
    sums.solved += usize::from(state.turned_by(&plan.turns()) == CubeState::SOLVED);
    let survey = &mut sums.survey;
    survey.turns.push(plan.turns().len() as f64);
    survey.beats.push(plan.beats.len() as f64);
    survey.costs.push(setting.machine_time(plan));
    survey.times_ms.extend(setting.predicted_ms(plan));
    sums.improvements.push(improvements);
    let textbook = setting.planner.textbook(state);
    sums.textbook_turns.push(textbook.turns().len() as f64);
    survey.textbook_costs.push(setting.machine_time(&textbook));
}

/// Mean cost after 1, 2, 5, 10, … thousand nodes, and what that is worth where the search does
/// so many nodes a millisecond.
fn curve(setting: &Setting, sums: &Sums, nodes_per_ms: Option<f64>) -> Vec<CurvePoint> {
    let states = sums.improvements.len().max(1) as f64;
    let per_state = sums.nodes as f64 / states;
    let cost_at = |nodes: u64| {
        let best = |all: &Vec<(u64, f64)>| {
            let by_then = all.iter().take_while(|(at, _)| *at <= nodes).last();
            by_then.or(all.first()).map_or(0.0, |(_, cost)| *cost)
        };
        sums.improvements.iter().map(best).sum::<f64>() / states
    };
    let first = cost_at(0);
    let quarter_ms = match setting.objective {
        Objective::FewestTurns => None,
        Objective::LeastTime(_) => {
            setting.scene.as_deref().map(|scene| Timing::of(scene).beat_s().0 * 1e3)
        }
    };
    let steps = (3..12).flat_map(|power| [1, 2, 5].map(|digit| digit * 10u64.pow(power)));
    steps
        .take_while(|&nodes| nodes as f64 <= 1.5 * per_state)
        .map(|nodes| {
            let cost = cost_at(nodes);
            let search_ms = nodes_per_ms.map(|speed| nodes as f64 / speed);
            let gain_ms =
                quarter_ms.zip(search_ms).map(|(ms, search)| (first - cost) * ms - search);
            CurvePoint { nodes, cost, search_ms, gain_ms }
        })
        .collect()
}

fn record(setting: &Setting, count: u64, sums: &Sums) -> PlansRecord {
    let survey = &sums.survey;
    let row = |point: &CurvePoint| CurveRow {
        nodes: point.nodes,
        objective: point.cost,
        search_ms: point.search_ms,
        gain_ms: point.gain_ms,
    };
    let mean_max = |values: &[f64]| MeanMax { mean: mean(values), max: most(values) };
    let one = |mean: f64| OneMean { mean };
    let (cost, textbook_cost) = (mean(&survey.costs), mean(&survey.textbook_costs));
    PlansRecord {
        states: count,
        solved: sums.solved,
        proved: sums.proved,
        tables: setting.served.word().to_owned(),
        turns: TurnSpread {
            mean: mean(&survey.turns),
            max: Some(most(&survey.turns)),
            spread: spread(&survey.turns),
        },
        beats: TurnSpread { mean: mean(&survey.beats), max: None, spread: spread(&survey.beats) },
        cost: mean_max(&survey.costs),
        predicted_ms: (!survey.times_ms.is_empty()).then(|| mean_max(&survey.times_ms)),
        textbook: TextbookMeans {
            turns: one(mean(&sums.textbook_turns)),
            cost: one(textbook_cost),
        },
        cost_ratio: cost / textbook_cost,
        nodes: sums.nodes as f64 / count as f64,
        curve: survey.curve.iter().map(row).collect(),
        nodes_per_s: None,
        search_ms: None,
    }
}

fn print(record: &PlansRecord) -> Result<(), Failure> {
    say::result(&format!(
        "{} of {} states solved; {} tables served",
        record.solved, record.states, record.tables
    ))?;
    say::result(&format!(
        "turns: mean {:.3}, most {}; beats: mean {:.3}",
        record.turns.mean,
        record.turns.max.unwrap_or_default(),
        record.beats.mean
    ))?;
    say::result(&format!(
        "machine time in quarter turns: mean {:.3}; textbook {:.3} ({:.3} turns); ratio {:.3}",
        record.cost.mean, record.textbook.cost.mean, record.textbook.turns.mean, record.cost_ratio
    ))?;
    if let Some(ms) = &record.predicted_ms {
        say::result(&format!("predicted time: mean {:.0} ms", ms.mean))?;
    }
    for (turns, count) in &record.turns.spread {
        say::result(&format!("{turns:>4} turns: {count}"))?;
    }
    Ok(())
}
