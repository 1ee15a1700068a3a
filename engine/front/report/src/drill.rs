//! A drill as a section of the report.

use core::fmt::Write as _;

use dryturn_cube::{Face, Facelet};
use dryturn_rehearsal::Verdict;
use dryturn_statistics::{Z_95, wilson};
use dryturn_studies::{Drill, FailureKind};

use crate::html::Escaped;
use crate::net::{self, Cell};
use crate::pass::colour_name;
use crate::{confusion, histogram};

/// How many trials that did not end solved are listed.
const LISTED: usize = 20;

pub(crate) fn section(number: usize, drill: &Drill) -> String {
    let scene = Escaped(&drill.scene.file().name);
    let light = Escaped(&drill.calibrated_in.file().name);
    let mut out = format!(
        "<section><h2>Drill {number}: {} trials of {scene}</h2><p>Calibrated in the light of \
         {light}. Every trial has its own rig, stickers, scramble and noise.</p>",
        drill.trials.len()
    );
    shares(&mut out, drill);
    times(&mut out, drill);
    mistakes(&mut out, drill);
    failures(&mut out, drill);
    out.push_str("</section>");
    out
}

fn shares(out: &mut String, drill: &Drill) {
    let trials = drill.trials.len();
    let rows = [
        ("read right", drill.right_reads()),
        ("solved", drill.ended(Verdict::Solved)),
        ("unreadable", drill.ended(Verdict::Unreadable)),
        ("jammed", drill.ended(Verdict::Jammed)),
        ("stopped by something else", drill.ended(Verdict::Stopped)),
        ("misread: a wrong cube, turned to the end", drill.ended(Verdict::Misread)),
        ("lost: ended elsewhere without a jam", drill.ended(Verdict::Lost)),
        ("not solved, all together", trials - drill.ended(Verdict::Solved)),
    ];
    let broken_off = drill.failures();
    let of = |kind: FailureKind| (kind.words(), broken_off.of_kind(kind));
    let kinds = FailureKind::ALL.map(of).into_iter().filter(|(_, count)| *count > 0);
    out.push_str(
        "<table><thead><tr><th>what</th><th>trials</th><th>share</th><th>95 % interval (Wilson)\
         </th></tr></thead><tbody>",
    );
    let kinds = kinds.map(|(what, count)| (format!("runs that were broken off: {what}"), count));
    for (what, count) in rows.map(|(what, count)| (what.to_owned(), count)).into_iter().chain(kinds)
    {
        let (low, high) = wilson(count, trials, Z_95);
        let _ = write!(
            out,
            "<tr><td>{what}</td><td>{count}</td><td>{:.1} %</td><td>{:.1} to {:.1} %</td></tr>",
            100.0 * count as f64 / trials.max(1) as f64,
            100.0 * low,
            100.0 * high
        );
    }
    let plans = drill.count(|t| t.plan_solves_reading.is_some());
    let solving = drill.count(|t| t.plan_solves_reading == Some(true));
    let _ = write!(
        out,
        "</tbody></table><p>{solving} of {plans} plans solve the state that was read, by applying \
         them.</p>"
    );
}

/// A histogram of the completed runs' times.
fn times(out: &mut String, drill: &Drill) {
    let times = drill.completed_times_s();
    if times.is_empty() {
        out.push_str("<p>No run was completed.</p>");
        return;
    }
    let _ = write!(
        out,
        "<h3>Execution time of completed runs</h3><p>5 % {:.0} ms, median {:.0} ms, 95 % {:.0} ms, \
         longest {:.0} ms.</p>",
        drill.time_ms(0.05).unwrap_or_default(),
        drill.time_ms(0.5).unwrap_or_default(),
        drill.time_ms(0.95).unwrap_or_default(),
        drill.time_ms(1.0).unwrap_or_default(),
    );
    let times_ms: Vec<f64> = times.iter().map(|time| time * 1e3).collect();
    let axis = "execution time, ms (bars: runs)";
    out.push_str(&histogram::draw(&times_ms, "Histogram of execution times", axis));
}

/// Between which colours, and where.
fn mistakes(out: &mut String, drill: &Drill) {
    let confusion = drill.confusion();
    let total: usize = confusion.iter().flatten().sum();
    out.push_str("<h3>Facelets read wrong</h3>");
    if total == 0 {
        out.push_str("<p>None.</p>");
        return;
    }
    let names = Face::ALL.map(|face| colour_name(&drill.scene, face));
    let cubes = drill.count(|t| !t.score.mistakes.is_empty());
    let _ = write!(
        out,
        "<p>{total} facelets in {cubes} cubes. Rows: the true colour; columns: what it was read as.\
         </p>"
    );
    // Facelets that were read right are not counted here.
    confusion::table(out, &drill.scene, &confusion, |_| "·".to_owned());
    out.push_str("<p>Cubes in which two colours were taken for each other: ");
    let mut pairs: Vec<(usize, String)> = Vec::new();
    for (i, &one) in Face::ALL.iter().enumerate() {
        for &other in &Face::ALL[i + 1..] {
            let cubes = drill.cubes_confusing(one, other);
            if cubes > 0 {
                let pair = format!("{} and {}", names[one.index()], names[other.index()]);
                pairs.push((cubes, pair));
            }
        }
    }
    pairs.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    let list: Vec<String> = pairs.iter().map(|(n, pair)| format!("{pair} {n}")).collect();
    let _ = write!(out, "{}.</p>", list.join(", "));
    let mut at = [0usize; Facelet::COUNT];
    for mistake in drill.trials.iter().flat_map(|t| &t.score.mistakes) {
        at[mistake.facelet.index()] += 1;
    }
    let where_wrong = net::draw(&drill.scene, "How often each place was read wrong", |facelet| {
        let count = at[facelet.index()];
        Cell {
            colour: Some(facelet.face()),
            text: if count > 0 { count.to_string() } else { String::new() },
            dashed: false,
            wrong: false,
            title: format!("{facelet}: read wrong {count} times"),
        }
    });
    let _ = write!(
        out,
        "<figure>{where_wrong}<figcaption>how often each place was read wrong (drawn on a solved \
         cube)</figcaption></figure>"
    );
}

fn failures(out: &mut String, drill: &Drill) {
    let failed: Vec<_> = drill.trials.iter().filter(|t| t.verdict != Verdict::Solved).collect();
    if failed.is_empty() {
        return;
    }
    let _ = write!(
        out,
        "<h3>Trials that did not end solved</h3><p>{} in all{}.</p><table><thead><tr><th>trial</th>\
         <th>verdict</th><th>why</th></tr></thead><tbody>",
        failed.len(),
        if failed.len() > LISTED { format!("; the first {LISTED}") } else { String::new() }
    );
    for trial in failed.iter().take(LISTED) {
        let failure = trial.jam.as_ref().map(ToString::to_string);
        let failure = failure.or_else(|| trial.stop.map(|stop| stop.to_string()));
        let why = match (&trial.because, failure) {
            (Some(because), _) => because.clone(),
            (None, Some(failure)) => failure,
            (None, None) if trial.verdict == Verdict::Lost => {
                "the run ended elsewhere than planned, without a jam".to_owned()
            }
            (None, None) => "a legal cube was read, but not this one".to_owned(),
        };
        let _ = write!(
            out,
            "<tr><td>{}</td><td>{}</td><td>{}</td></tr>",
            trial.number,
            trial.verdict.word(),
            Escaped(why)
        );
    }
    out.push_str("</tbody></table>");
}
