//! Many executions as a section of the report.

use core::fmt::Write as _;

use dryturn_cube::Face;
use dryturn_handoff::Jam;
use dryturn_statistics::quantile;
use dryturn_studies::{CLAIMED_RATES, Execution, TurningDrill};

use crate::html::{Escaped, figure};
use crate::page::POINTER;
use crate::{histogram, kinds, table};

/// How many executions that did not complete are listed.
const LISTED: usize = 20;
/// How many rows of who blocked whom are listed.
const BLAMED: usize = 20;

pub(crate) fn section(number: usize, drill: &TurningDrill) -> String {
    let mut out = format!(
        "<section class=\"turning\"><h2>Executions {number}: {} on the axes of {}</h2>{POINTER}",
        drill.trials(),
        Escaped(&drill.scene.file().name)
    );
    if drill.trials() == 0 {
        out.push_str("<p>Nothing was executed.</p></section>");
        return out;
    }
    let _ = write!(
        out,
        "<p>{} plans in turn; every execution has its own axes, friction and delays. What counts is a \
         whole execution, not a turn; intervals speak of these plans.</p>",
        drill.plans.len()
    );
    counts(&mut out, drill);
    times(&mut out, drill);
    blame(&mut out, drill);
    margins(&mut out, drill);
    failures(&mut out, drill);
    out.push_str("</section>");
    out
}

fn counts(out: &mut String, drill: &TurningDrill) {
    let failures = drill.failures();
    let trials = failures.trials();
    let row = |what: &str, count: usize| {
        let [share, interval] = kinds::share_cells(count, trials);
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
    table::draw(out, "figures", &headings, rows);
    let _ = write!(
        out,
        "<p>At most {} % of executions fail (exact one-sided bound, 95 % confidence).",
        figure(100.0 * failures.at_most(), 2)
    );
    for sentence in failures.advice(&CLAIMED_RATES) {
        let _ = write!(out, " {}.", Escaped(sentence));
    }
    out.push_str("</p>");
    kinds::meanings(out, &failures);
}

fn times(out: &mut String, drill: &TurningDrill) {
    let times = drill.times_s();
    out.push_str("<h3>Execution time of those that were completed</h3>");
    let (Some(first), Some(last)) = (times.first(), times.last()) else {
        out.push_str("<p>No execution was completed.</p>");
        return;
    };
    let row = |what: &str, share: f64| {
        let (value, (low, high)) = drill.time_s(share)?;
        let interval = format!("{} to {}", figure(low * 1e3, 1), figure(high * 1e3, 1));
        Some(vec![what.to_owned(), figure(value * 1e3, 1), interval])
    };
    let rows = [row("median", 0.5), row("95 % of them are faster than", 0.95)];
    let headings = ["time", "ms", "95 % interval (bootstrap), ms"];
    table::draw(out, "figures", &headings, rows.into_iter().flatten());
    let _ = write!(
        out,
        "<p>{} completed; shortest {} ms, longest {} ms. No execution of these plans on this drive can \
         be faster than {} ms on average.</p>",
        times.len(),
        figure(first * 1e3, 1),
        figure(last * 1e3, 1),
        figure(drill.mean_bound_s() * 1e3, 1)
    );
    let times_ms: Vec<f64> = times.iter().map(|time| time * 1e3).collect();
    let axis = "execution time, ms (bars: executions)";
    out.push_str(&histogram::draw(&times_ms, "Histogram of execution times", axis));
}

fn blame(out: &mut String, drill: &TurningDrill) {
    let rows = drill.blame();
    if !rows.is_empty() {
        out.push_str("<h3>Who blocked whom</h3>");
        if rows.len() > BLAMED {
            let _ = write!(out, "<p>{} pairs in all; the first {BLAMED}.</p>", rows.len());
        }
        let cells = |row: &dryturn_studies::BlameRow| {
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
        table::draw(out, "figures", &headings, rows.iter().take(BLAMED).map(cells));
        out.push_str(
            "<p class=\"aside\">Against: corners met. With: the row that both share rubbed along.</p>",
        );
    }
    let axes = drill.axes();
    if axes.iter().any(|axis| axis.late + axis.blocked + axis.stops > 0) {
        let rows = Face::ALL.map(|face| {
            let axis = axes[face.index()];
            let counts = [axis.late, axis.blocked, axis.broken, axis.stops];
            let counts = counts.map(|count| count.to_string());
            [vec![face.to_string()], counts.to_vec()].concat()
        });
        out.push_str("<h3>What each axis had to do with it</h3>");
        let headings = [
            "face",
            "late in a jam",
            "blocked in a jam",
            "its shaft broke",
            "stopped it without a jam",
        ];
        table::draw(out, "figures", &headings, rows);
    }
    let reasons = drill.reasons();
    if !reasons.is_empty() {
        out.push_str("<h3>What executions failed by</h3>");
        if reasons.len() > BLAMED {
            let _ = write!(out, "<p>{} in all; the first {BLAMED}.</p>", reasons.len());
        }
        let row = |reason: &dryturn_studies::ReasonCount| {
            let [share, interval] = kinds::share_cells(reason.count, drill.trials());
            vec![
                reason.says.clone(),
                reason.kind.words().to_owned(),
                reason.count.to_string(),
                share,
                interval,
            ]
        };
        let headings = ["what happened", "cause", "executions", "%", "95 % interval (Wilson), %"];
        table::draw(out, "figures", &headings, reasons.iter().take(BLAMED).map(row));
    }
}

/// What the rig went through: quantiles over all executions.
fn margins(out: &mut String, drill: &TurningDrill) {
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
            if what.contains("safety") { table::safety(value) } else { figure(value, decimals) }
        });
        [vec![what.to_owned()], cells.to_vec()].concat()
    });
    out.push_str("<h3>What the rig went through</h3>");
    table::draw(out, "figures", &["in an execution", "5 %", "median", "95 %", "worst"], rows);
    out.push_str(
        "<p class=\"aside\">5 %, median and 95 %: so many executions have a lower figure. Worst: the \
         highest, or the lowest of safety factor and lowest voltage.</p>",
    );
}

fn failures(out: &mut String, drill: &TurningDrill) {
    let failed: Vec<&Execution> = drill.executions.iter().filter(|e| !e.completed()).collect();
    if failed.is_empty() {
        return;
    }
    let more = if failed.len() > LISTED { format!("; the first {LISTED}") } else { String::new() };
    let _ = write!(
        out,
        "<h3>Executions that did not complete</h3><p>{} in all{more}.</p>",
        failed.len()
    );
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
    table::draw(out, "listed", &headings, failed.iter().take(LISTED).map(cells));
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
