//! Many executions as a section of the report.

use dryturn_cube::Face;
use dryturn_handoff::Jam;
use dryturn_statistics::quantile;
use dryturn_studies::{BlameRow, CLAIMED_RATES, Execution, ReasonCount, TurningDrill};
use maud::{Markup, html};

use crate::charts::histogram;
use crate::html::figures::{between, figure, ms, safety, share_cells};
use crate::html::table;
use crate::sections::{cautions, failures};

/// How many executions that did not complete are listed.
const LISTED: usize = 20;
/// How many rows of who blocked whom are listed.
const BLAMED: usize = 20;

pub(crate) fn section(number: usize, drill: &TurningDrill) -> Markup {
    html! {
        section.turning {
            h2 {
                "Executions " (number) ": " (drill.trials()) " on the axes of "
                (drill.scene.file().name)
            }
            (cautions::pointer())
            @if drill.trials() == 0 {
                p { "Nothing was executed." }
            } @else {
                p {
                    (drill.plans.len()) " plans in turn; every execution has its own axes, friction \
                     and delays. What counts is a whole execution, not a turn; intervals speak of \
                     these plans."
                }
                (counts(drill))
                (times(drill))
                (blame(drill))
                (axes(drill))
                (reasons(drill))
                (margins(drill))
                (incomplete(drill))
            }
        }
    }
}

fn counts(drill: &TurningDrill) -> Markup {
    let failures = drill.failures();
    let trials = failures.trials();
    let row = |what: &str, count: usize| {
        let [share, interval] = share_cells(count, trials);
        vec![what.to_owned(), count.to_string(), share, interval]
    };
    let mut rows =
        vec![row("completed", drill.completed()), row("failed, all causes", failures.count())];
    let split = failures.split();
    rows.extend(
        split.iter().map(|(kind, count)| row(&format!("of them: {}", kind.words()), *count)),
    );
    rows.push(row("a face was brought to a stand and got through", drill.pushed()));
    let headings = ["what", "executions", "%", "95 % interval (Wilson), %"];
    html! {
        (table::draw("figures", &headings, rows))
        p {
            "At most " (figure(100.0 * failures.at_most(), 2))
            " % of executions fail (exact one-sided bound, 95 % confidence)."
            @for sentence in failures.advice(&CLAIMED_RATES) { " " (sentence) "." }
        }
        (failures::meanings(&failures))
    }
}

fn times(drill: &TurningDrill) -> Markup {
    let times = drill.times_s();
    let row = |what: &str, share: f64| {
        let (value, (low, high)) = drill.time_s(share)?;
        Some(vec![what.to_owned(), ms(value), between((low * 1e3, high * 1e3), 1)])
    };
    let rows = [row("median", 0.5), row("95 % of them are faster than", 0.95)];
    let headings = ["time", "ms", "95 % interval (bootstrap), ms"];
    let times_ms: Vec<f64> = times.iter().map(|time| time * 1e3).collect();
    let axis = "execution time, ms (bars: executions)";
    html! {
        h3 { "Execution time of those that were completed" }
        @if let (Some(first), Some(last)) = (times.first(), times.last()) {
            (table::draw("figures", &headings, rows.into_iter().flatten()))
            p {
                (times.len()) " completed; shortest " (ms(*first)) " ms, longest " (ms(*last))
                " ms. No execution of these plans on this drive can be faster than "
                (ms(drill.mean_bound_s())) " ms on average."
            }
            (histogram::draw(&times_ms, "Histogram of execution times", axis))
        } @else {
            p { "No execution was completed." }
        }
    }
}

fn blame(drill: &TurningDrill) -> Markup {
    let rows = drill.blame();
    if rows.is_empty() {
        return html! {};
    }
    let cells = |row: &BlameRow| {
        vec![
            row.late.to_string(),
            row.blocked.to_string(),
            if row.against { "against" } else { "with" }.to_owned(),
            row.jams.to_string(),
            row.pushed.to_string(),
            figure(row.late_deg, 2),
        ]
    };
    let headings = [
        "late face",
        "blocked face",
        "turned against or with its error",
        "jams",
        "pushed through",
        "late by, mean, °",
    ];
    html! {
        h3 { "Who blocked whom" }
        @if rows.len() > BLAMED {
            p { (rows.len()) " pairs in all; the first " (BLAMED) "." }
        }
        (table::draw("figures", &headings, rows.iter().take(BLAMED).map(cells)))
        p.aside {
            "Against: corners met. With: the row that both share rubbed along."
        }
    }
}

fn axes(drill: &TurningDrill) -> Markup {
    let axes = drill.axes();
    if axes.iter().all(|axis| axis.late + axis.blocked + axis.stops == 0) {
        return html! {};
    }
    let rows = Face::ALL.map(|face| {
        let axis = axes[face.index()];
        let counts = [axis.late, axis.blocked, axis.broken, axis.stops];
        let counts = counts.map(|count| count.to_string());
        [vec![face.to_string()], counts.to_vec()].concat()
    });
    let headings = [
        "face",
        "late in a jam",
        "blocked in a jam",
        "its shaft broke",
        "stopped it without a jam",
    ];
    html! {
        h3 { "What each axis had to do with it" }
        (table::draw("figures", &headings, rows))
    }
}

fn reasons(drill: &TurningDrill) -> Markup {
    let reasons = drill.reasons();
    if reasons.is_empty() {
        return html! {};
    }
    let row = |reason: &ReasonCount| {
        let [share, interval] = share_cells(reason.count, drill.trials());
        let kind = reason.kind.words().to_owned();
        vec![reason.says.clone(), kind, reason.count.to_string(), share, interval]
    };
    let headings = ["what happened", "cause", "executions", "%", "95 % interval (Wilson), %"];
    html! {
        h3 { "What executions failed by" }
        @if reasons.len() > BLAMED {
            p { (reasons.len()) " in all; the first " (BLAMED) "." }
        }
        (table::draw("figures", &headings, reasons.iter().take(BLAMED).map(row)))
    }
}

/// What the rig went through: quantiles over all executions.
fn margins(drill: &TurningDrill) -> Markup {
    type Of = fn(&Execution) -> f64;
    // Whether the worst is the least; decimals.
    let rows: [(&str, bool, usize, Of); 8] = [
        ("largest torque in a shaft, N·m", false, 2, |e| e.peak_torque_n_m),
        ("least safety factor of a shaft", true, 2, |e| e.safety_factor_ratio),
        ("energy from the supply, J", false, 1, |e| e.supply_j),
        ("energy burnt in the brake resistor, J", false, 2, |e| e.brake_j),
        ("highest bus voltage, V", false, 1, |e| e.bus_v.1),
        ("lowest bus voltage, V", true, 1, |e| e.bus_v.0),
        ("warmest winding, °C", false, 1, |e| e.winding_c),
        ("brake resistor at its hottest, °C", false, 1, |e| e.resistor_c),
    ];
    let rows = rows.map(|(what, least, decimals, of)| {
        let sorted = drill.sorted(of);
        let worst = if least { 0.0 } else { 1.0 };
        let cells = [0.05, 0.5, 0.95, worst].map(|share| {
            let value = quantile(&sorted, share).unwrap_or(f64::NAN);
            if what.contains("safety") { safety(value) } else { figure(value, decimals) }
        });
        [vec![what.to_owned()], cells.to_vec()].concat()
    });
    let headings = ["in an execution", "5 %", "median", "95 %", "worst"];
    html! {
        h3 { "What the rig went through" }
        (table::draw("figures", &headings, rows))
        p.aside {
            "5 %, median and 95 %: so many executions have a lower figure. Worst: the highest, or \
             the lowest of safety factor and lowest voltage."
        }
    }
}

/// Those that did not complete.
fn incomplete(drill: &TurningDrill) -> Markup {
    let failed: Vec<&Execution> = drill.executions.iter().filter(|e| !e.completed()).collect();
    if failed.is_empty() {
        return html! {};
    }
    let more = if failed.len() > LISTED { format!("; the first {LISTED}") } else { String::new() };
    let cells = |execution: &&Execution| {
        let kind = execution.failure().map_or("", |kind| kind.words());
        let (why, turns) = match (&execution.jam, &execution.stop) {
            (Some(jam), _) => (jam.to_string(), turns(drill, execution, jam)),
            (None, Some(stop)) => (stop.to_string(), String::new()),
            (None, None) => Default::default(),
        };
        vec![
            execution.number.to_string(),
            (execution.plan + 1).to_string(),
            kind.to_owned(),
            why,
            turns,
        ]
    };
    let headings = ["execution", "plan", "cause", "why", "turns"];
    html! {
        h3 { "Executions that did not complete" }
        p { (failed.len()) " in all" (more) "." }
        (table::draw("listed", &headings, failed.iter().take(LISTED).map(cells)))
    }
}

/// The turn that was blocked and the late face's last one.
fn turns(drill: &TurningDrill, execution: &Execution, jam: &Jam) -> String {
    match drill.turns_of(execution, jam) {
        (Some(blocked), Some(late)) => format!("{blocked} blocked, {late} late"),
        (Some(blocked), None) => format!("{blocked} blocked, {} had not turned", jam.met.late_face),
        (None, Some(late)) => format!("{late} late"),
        (None, None) => String::new(),
    }
}
