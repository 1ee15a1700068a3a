//! A drill as a section of the report.

use dryturn_cube::{Face, Facelet};
use dryturn_rehearsal::Verdict;
use dryturn_statistics::{Z_95, wilson};
use dryturn_studies::{Drill, FailureKind, Trial};
use maud::{Markup, html};

use crate::charts::histogram;
use crate::charts::net::{self, Cell};
use crate::html::figures::in_percent;
use crate::html::table;
use crate::sections::confusion;
use crate::sections::names::colour_name;

/// How many trials that did not end solved are listed.
const LISTED: usize = 20;

pub(crate) fn section(number: usize, drill: &Drill) -> Markup {
    html! {
        section {
            h2 {
                "Drill " (number) ": " (drill.trials.len()) " trials of "
                (drill.scene.file().name)
            }
            p {
                "Calibrated in the light of " (drill.calibrated_in.file().name)
                ". Every trial has its own rig, stickers, scramble and noise."
                @if let Some(guests) = drill.guests.in_words() { " " (guests) }
            }
            (shares(drill))
            (times(drill))
            (mistakes(drill))
            (failures(drill))
        }
    }
}

fn shares(drill: &Drill) -> Markup {
    let trials = drill.trials.len();
    let beside = drill.built_in.as_deref().map(counted);
    let rows = counted(drill).into_iter().enumerate().filter_map(|(place, counted)| {
        let Counted { what, count, rare } = counted;
        let built_in = beside.as_ref().map(|rows| rows[place].count);
        if rare && count + built_in.unwrap_or(0) == 0 {
            return None;
        }
        let (low, high) = wilson(count, trials, Z_95);
        let mut row = vec![
            what,
            count.to_string(),
            format!("{:.1} %", in_percent(count, trials)),
            format!("{:.1} to {:.1} %", 100.0 * low, 100.0 * high),
        ];
        row.extend(built_in.map(|count| count.to_string()));
        Some(row)
    });
    let plans = drill.count(|t| t.plan_solves_reading.is_some());
    let solving = drill.count(|t| t.plan_solves_reading == Some(true));
    let headings = ["what", "trials", "share", "95 % interval (Wilson)", "built-in stages, trials"];
    let headings = &headings[..if beside.is_some() { 5 } else { 4 }];
    html! {
        (table::draw("", headings, rows))
        @if let Some(luck) = drill.same_luck() {
            p {
                "Trials solved " (luck.in_words()) ". Both had the same rigs, stickers, scrambles and \
                 pictures, and the same errors of the drive."
            }
        }
        p { (solving) " of " (plans) " plans solve the state that was read, by applying them." }
    }
}

/// How many trials of a drill came to something.
struct Counted {
    what: String,
    count: usize,
    /// Left out of the table where it never happened.
    rare: bool,
}

/// In the order of the table.
fn counted(drill: &Drill) -> Vec<Counted> {
    let solved = drill.ended(Verdict::Solved);
    let usual = [
        ("read right", drill.right_reads()),
        ("solved", solved),
        ("unreadable", drill.ended(Verdict::Unreadable)),
        ("jammed", drill.ended(Verdict::Jammed)),
        ("stopped by something else", drill.ended(Verdict::Stopped)),
        ("misread: a wrong cube, turned to the end", drill.ended(Verdict::Misread)),
        ("lost: ended elsewhere without a jam", drill.ended(Verdict::Lost)),
        ("not solved, all together", drill.trials.len() - solved),
    ];
    let usual = usual.map(|(what, count)| Counted { what: what.to_owned(), count, rare: false });
    let broken_off = drill.failures();
    let kinds = FailureKind::ALL.map(|kind| Counted {
        what: format!("runs that were broken off: {}", kind.words()),
        count: broken_off.of_kind(kind),
        rare: true,
    });
    let guest = "a guest could not go on".to_owned();
    let guest = Counted { what: guest, count: drill.ended(Verdict::Guest), rare: true };
    usual.into_iter().chain([guest]).chain(kinds).collect()
}

/// A histogram of the completed runs' times.
fn times(drill: &Drill) -> Markup {
    let times = drill.completed_times_s();
    if times.is_empty() {
        return html! { p { "No run was completed." } };
    }
    let ms = |share: f64| format!("{:.0} ms", drill.time_ms(share).unwrap_or_default());
    let times_ms: Vec<f64> = times.iter().map(|time| time * 1e3).collect();
    let axis = "execution time, ms (bars: runs)";
    html! {
        h3 { "Execution time of completed runs" }
        p {
            "5 % " (ms(0.05)) ", median " (ms(0.5)) ", 95 % " (ms(0.95)) ", longest " (ms(1.0)) "."
        }
        (histogram::draw(&times_ms, "Histogram of execution times", axis))
    }
}

/// Between which colours, and where.
fn mistakes(drill: &Drill) -> Markup {
    let confusion = drill.confusion();
    let total: usize = confusion.iter().flatten().sum();
    let cubes = drill.count(|t| !t.score.mistakes.is_empty());
    html! {
        h3 { "Facelets read wrong" }
        @if total == 0 {
            p { "None." }
        } @else {
            p {
                (total) " facelets in " (cubes) " cubes. Rows: the true colour; columns: what it \
                 was read as."
            }
            // Facelets that were read right are not counted here.
            (confusion::matrix(&drill.scene, &confusion, |_| "·".to_owned()))
            p {
                "Cubes in which two colours were taken for each other: " (confused_pairs(drill)) "."
            }
            figure {
                (places(drill))
                figcaption {
                    "how often each place was read wrong (drawn on a solved cube)"
                }
            }
        }
    }
}

/// Pairs of colours with the cubes in which they were taken for each other, the most first.
fn confused_pairs(drill: &Drill) -> String {
    let names = Face::ALL.map(|face| colour_name(&drill.scene, face));
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
    pairs.iter().map(|(n, pair)| format!("{pair} {n}")).collect::<Vec<_>>().join(", ")
}

fn places(drill: &Drill) -> Markup {
    let mut at = [0usize; Facelet::COUNT];
    for mistake in drill.trials.iter().flat_map(|t| &t.score.mistakes) {
        at[mistake.facelet.index()] += 1;
    }
    net::draw(&drill.scene, "How often each place was read wrong", |facelet| {
        let count = at[facelet.index()];
        Cell {
            colour: Some(facelet.face()),
            text: if count > 0 { count.to_string() } else { String::new() },
            dashed: false,
            wrong: false,
            title: format!("{facelet}: read wrong {count} times"),
        }
    })
}

fn failures(drill: &Drill) -> Markup {
    let failed: Vec<&Trial> =
        drill.trials.iter().filter(|t| t.verdict != Verdict::Solved).collect();
    if failed.is_empty() {
        return html! {};
    }
    let more = if failed.len() > LISTED { format!("; the first {LISTED}") } else { String::new() };
    let cells = |trial: &&Trial| {
        vec![trial.number.to_string(), trial.verdict.word().to_owned(), why(trial)]
    };
    html! {
        h3 { "Trials that did not end solved" }
        p { (failed.len()) " in all" (more) "." }
        (table::draw("", &["trial", "verdict", "why"], failed.iter().take(LISTED).map(cells)))
    }
}

/// Why a trial did not end solved.
fn why(trial: &Trial) -> String {
    if let Some(fault) = &trial.fault {
        return fault.to_string();
    }
    let failure = trial.jam.as_ref().map(ToString::to_string);
    let failure = failure.or_else(|| trial.stop.map(|stop| stop.to_string()));
    match (&trial.because, failure) {
        (Some(because), _) => because.clone(),
        (None, Some(failure)) => failure,
        (None, None) if trial.verdict == Verdict::Lost => {
            "the run ended elsewhere than planned, without a jam".to_owned()
        }
        (None, None) => "a legal cube was read, but not this one".to_owned(),
    }
}
