//! Many executions as a section of the report.

use core::fmt::Write as _;

use dryturn_cube::Face;
use dryturn_handoff::Jam;
use dryturn_rehearsal::statistics::{Z_95, quantile, wilson};
use dryturn_rehearsal::{Execution, TurningDrill};

use crate::html::{Escaped, figure};
use crate::page::POINTER;
use crate::{histogram, table};

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
    let trials = drill.trials();
    let completed = drill.times_s().len();
    let rows = [
        ("completed", completed),
        ("jammed", drill.jams()),
        ("stopped by something else", drill.stops()),
        ("a face was brought to a stand and got through", drill.pushed()),
    ];
    let rows = rows.map(|(what, count)| {
        let (low, high) = wilson(count, trials, Z_95);
        vec![
            what.to_owned(),
            count.to_string(),
            figure(100.0 * count as f64 / trials.max(1) as f64, 1),
            format!("{} to {}", figure(100.0 * low, 2), figure(100.0 * high, 2)),
        ]
    });
    let headings = ["what", "executions", "%", "95 % interval (Wilson), %"];
    table::draw(out, "figures", &headings, rows);
    let _ = write!(
        out,
        "<p>At most {} % of executions jam (exact one-sided bound, 95 % confidence).",
        figure(100.0 * drill.jams_at_most(), 2)
    );
    for (rate, words) in [(0.01, "under 1 %"), (0.001, "under 0.1 %")] {
        let _ = match drill.further_trials(rate) {
            Some(0) => write!(out, " “Jams in {words}” is supported."),
            Some(1) => write!(out, " “Jams in {words}” takes one more execution without a jam."),
            Some(more) => {
                write!(out, " “Jams in {words}” takes {more} further executions without a jam.")
            }
            None => Ok(()),
        };
    }
    out.push_str("</p>");
    let causes = causes(drill);
    if !causes.is_empty() {
        let list: Vec<String> =
            causes.iter().map(|(cause, count)| format!("{cause}: {count}")).collect();
        let _ = write!(out, "<p>What else stopped it: {}.</p>", Escaped(list.join("; ")));
    }
}

/// Other causes of stops, the most frequent first.
fn causes(drill: &TurningDrill) -> Vec<(String, usize)> {
    let mut causes: Vec<(String, usize)> = Vec::new();
    for stop in drill.executions.iter().filter_map(|execution| execution.stop) {
        let words = stop.cause.to_string();
        match causes.iter_mut().find(|(known, _)| *known == words) {
            Some((_, count)) => *count += 1,
            None => causes.push((words, 1)),
        }
    }
    causes.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    causes
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
        let cells = |row: &dryturn_rehearsal::Blame| {
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
            let counts = [axis.late, axis.blocked, axis.stops].map(|count| count.to_string());
            [vec![face.to_string()], counts.to_vec()].concat()
        });
        out.push_str("<h3>What each axis had to do with it</h3>");
        let headings = ["face", "late in a jam", "blocked in a jam", "stopped it otherwise"];
        table::draw(out, "figures", &headings, rows);
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
        let (why, turns) = match (&execution.jam, &execution.stop) {
            (Some(jam), _) => (jam.to_string(), turns(drill, execution, jam)),
            (None, Some(stop)) => (stop.to_string(), String::new()),
            (None, None) => Default::default(),
        };
        vec![execution.number.to_string(), (execution.plan + 1).to_string(), why, turns]
    };
    let headings = ["execution", "plan", "why", "turns"];
    table::draw(out, "listed", &headings, failed.iter().take(LISTED).map(cells));
}

/// The turn that was blocked and the late face's last one.
fn turns(drill: &TurningDrill, execution: &Execution, jam: &Jam) -> String {
    match drill.turns_of(execution, jam) {
        (Some(blocked), Some(late)) => format!("{blocked} blocked, {late} late"),
        (Some(blocked), None) => format!("{blocked} blocked, {} had not turned", jam.late_face),
        (None, Some(late)) => format!("{late} late"),
        (None, None) => String::new(),
    }
}
