//! Tuning as a section of the report: what was found, the race as a picture, what limits.

use core::fmt::Write as _;

use dryturn_rehearsal::StartToStop;
use dryturn_studies::{
    BelowZero, Dot, Failures, Lead, NotTuned, Nudge, TuneLimit, Tuned, Tuning, lead_kind,
    lead_nearness,
};

use crate::html::{Escaped, figure};
use crate::marks::{self, LEFT, RIGHT, TOP, WIDTH};
use crate::page::POINTER;
use crate::plot::{self, Scale, tick_text};
use crate::{kinds, table};

/// Height of the plot, px.
const HEIGHT: f64 = 300.0;
/// Where a share of nothing stands on the axis by ratio, %.
const NONE: f64 = 0.02;
/// The race is shown from this many trials of a setting on.
const LEAST_TRIALS: usize = 16;

pub(crate) fn section(tuning: &Tuning) -> String {
    let request = &tuning.request;
    let mut out = format!(
        "<section class=\"tune\"><h2>Tuning of {}</h2>{POINTER}<p>Wanted: fewer than {} % of \
         executions fail at 95 % confidence, and the weakest shaft is {} times as strong as the \
         torque limit. Settings raced on trials whose luck they share; the fastest \
         that kept the target in {} other trials on other cubes was taken, and the figures below are of \
         as many trials more, which nothing was chosen by.</p>",
        Escaped(&request.scene.file().name),
        100.0 * request.target.jam_rate,
        request.target.static_safety_ratio,
        request.proof
    );
    match &tuning.found {
        Ok(tuned) => found(&mut out, tuned, request.target.jam_rate),
        Err(why) => {
            let _ =
                write!(out, "<p><strong>No settings: {}.</strong></p>", Escaped(&why.to_string()));
            if let NotTuned::NoneKeeps { drill, .. } = why {
                kinds::meanings(&mut out, &drill.failures());
            }
        }
    }
    frontier(&mut out, tuning);
    if let Ok(tuned) = &tuning.found {
        limits(&mut out, tuned);
    }
    rounds(&mut out, tuning);
    out.push_str("</section>");
    out
}

fn found(out: &mut String, tuned: &Tuned, rate: f64) {
    let rows = [
        ("tuned", &tuned.drill),
        ("the scene as it was", &tuned.before),
        ("waiting, with the tuned limits", &tuned.waiting),
    ];
    let rows = rows.map(|(what, drill)| {
        let failures = drill.failures();
        let (low, high) = failures.interval();
        let time = |share: f64| {
            drill.time_s(share).map_or_else(|| "–".to_owned(), |(s, _)| figure(s * 1e3, 1))
        };
        let whole = drill.time_s(0.5).map_or_else(
            || "–".to_owned(),
            |(s, _)| figure(StartToStop::of(&drill.scene, s).total_s() * 1e3, 1),
        );
        vec![
            what.to_owned(),
            drill.trials().to_string(),
            failures.count().to_string(),
            kinds::in_a_cell(&failures),
            format!("{} to {}", figure(100.0 * low, 2), figure(100.0 * high, 2)),
            time(0.5),
            time(0.95),
            figure(drill.mean_bound_s() * 1e3, 1),
            whole,
        ]
    });
    let headings = [
        "settings",
        "executions",
        "failed",
        "by cause",
        "95 % interval (Wilson), %",
        "median, ms",
        "95 % are below, ms",
        "bound, mean, ms",
        "start to stop, ms",
    ];
    table::draw(out, "figures", &headings, rows);
    let percent =
        |share: Option<f64>| share.map_or_else(|| "–".to_owned(), |share| figure(100.0 * share, 0));
    let _ = write!(
        out,
        "<p>{} % of the way from waiting to the bound is closed, at {} V. Static safety factor {}.",
        percent(tuned.gap_closed()),
        tuned.scene.file().drive.bus_voltage_v,
        figure(tuned.static_safety_ratio(), 2)
    );
    for sentence in tuned.drill.failures().advice(&[rate, 0.5 * rate, 0.1 * rate]) {
        let _ = write!(out, " {}.", Escaped(sentence));
    }
    out.push_str("</p>");
    let rows = tuned.settings.iter().map(|setting| {
        vec![setting.field.clone(), setting.before.clone(), setting.after.clone(), setting.says()]
    });
    table::draw(out, "figures", &["field", "before", "tuned", "what it does to the rig"], rows);
    handovers(out, tuned);
}

/// How early faces begin and how near they come, and what a margin below zero would buy.
fn handovers(out: &mut String, tuned: &Tuned) {
    let Some(leads) = tuned.leads() else { return };
    out.push_str("<h3>How early the next face begins</h3>");
    let row = |lead: &Lead| {
        vec![
            lead_kind(lead),
            figure(lead.lead_s * 1e3, 2),
            figure(lead.to_go_deg, 1),
            lead_nearness(lead),
            figure(lead.nearest_late_deg, 1),
            figure(lead.nearest_turned_deg, 1),
        ]
    };
    let headings = [
        "turns",
        "before its neighbour's stop, ms",
        "neighbour still to go, °",
        "at the closest",
        "neighbour to go there, °",
        "turned there, °",
    ];
    table::draw(out, "figures", &headings, leads.iter().map(row));
    let sentences =
        [tuned.clearance_sentence(), tuned.below_zero.as_ref().map(BelowZero::sentence)];
    for sentence in sentences.into_iter().flatten() {
        let mut letters = sentence.chars();
        let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
        let _ = write!(out, "<p>{}{}.</p>", first, Escaped(letters.as_str()));
    }
}

/// Start-to-stop time against the share that fails, a dot for each setting of the race.
fn frontier(out: &mut String, tuning: &Tuning) {
    let whole_ms =
        |execution_s: f64| StartToStop::of(&tuning.request.scene, execution_s).total_s() * 1e3;
    let dots: Vec<&Dot> =
        tuning.dots.iter().filter(|dot| dot.failures.trials() >= LEAST_TRIALS).collect();
    if dots.is_empty() {
        return;
    }
    let percent = |dot: &Dot| 100.0 * dot.failures.share();
    let times = dots.iter().map(|dot| whole_ms(dot.median_s));
    let least = times.clone().fold(f64::INFINITY, f64::min);
    let most = times.fold(0.0, f64::max);
    let step = plot::round_step((most - least).max(1.0), 8);
    let range = ((least / step).floor() * step, (most / step).ceil() * step);
    let bottom = TOP + HEIGHT;
    let x = Scale::linear(range, (LEFT + 10.0, WIDTH - RIGHT - 10.0));
    let y = Scale::logarithmic((NONE, 100.0), (bottom - 6.0, TOP + 6.0));
    let heading = "Share of executions that fail, %, over the time from start to stop";
    out.push_str("<figure>");
    marks::frame(out, heading, HEIGHT);
    for (value, name) in [(NONE, "none"), (0.1, "0.1"), (1.0, "1"), (10.0, "10"), (100.0, "100")] {
        marks::across(out, y.px(value), name);
    }
    let (ticks, step) = x.ticks(8);
    for tick in ticks {
        marks::below(out, x.px(tick), bottom, &tick_text(tick, step));
    }
    let name = "from start to stop, median, ms (the axis does not begin at 0)";
    marks::name_below(out, bottom, name);
    // Writing to a String cannot fail.
    let target = y.px(100.0 * tuning.request.target.jam_rate);
    let _ = write!(
        out,
        "<path class=\"target\" d=\"M{LEFT} {target:.1}H{:.1}\"><title>target</title></path>",
        WIDTH - RIGHT
    );
    for dot in &dots {
        let share = percent(dot).max(NONE);
        let (low, high) = dot.failures.interval();
        let (at, own) = (x.px(whole_ms(dot.median_s)), y.px(share));
        let bar = if dot.frontier {
            let (low, high) = (y.px((100.0 * low).max(NONE)), y.px(100.0 * high));
            format!("<path class=\"interval\" d=\"M{at:.1} {low:.1}V{high:.1}\"/>")
        } else {
            String::new()
        };
        let _ = write!(
            out,
            "<g><title>{}: {} ms, {}</title>{bar}<circle class=\"{}\" cx=\"{at:.1}\" \
             cy=\"{own:.1}\" r=\"{}\"/></g>",
            dot.policy,
            figure(whole_ms(dot.median_s), 1),
            Escaped(dot.failures.words()),
            if dot.frontier { "point" } else { "other" },
            if dot.frontier { 4.0 } else { 2.5 }
        );
    }
    if let Ok(tuned) = &tuning.found {
        for (name, drill) in [("tuned", &tuned.drill), ("before", &tuned.before)] {
            let Some((median_s, _)) = drill.time_s(0.5) else { continue };
            let share = (100.0 * drill.failures().share()).max(NONE);
            let (at, own) = (x.px(whole_ms(median_s)), y.px(share));
            let _ = write!(
                out,
                "<circle class=\"chosen\" cx=\"{at:.1}\" cy=\"{own:.1}\" r=\"7\"/><text \
                 class=\"tick-name\" x=\"{at:.1}\" y=\"{:.1}\">{name}</text>",
                own - 11.0
            );
        }
    }
    out.push_str(
        "</svg><figcaption>Each dot is a setting of the race, with as many trials as it lasted; \
         large ones are those that no other beats in both, with 95 % intervals (Wilson). Rings: the \
         proof on fresh trials. The dashed line is the target.</figcaption></figure>",
    );
}

fn limits(out: &mut String, tuned: &Tuned) {
    let says = tuned.what_limits();
    if !says.is_empty() {
        out.push_str(
            "<h3>What keeps it from being faster</h3><p>What binds first comes first; were it \
             lifted, the next would.</p><ol>",
        );
        for sentence in says {
            let _ = write!(out, "<li>{}</li>", Escaped(&sentence));
        }
        out.push_str("</ol>");
    }
    if let Some(cause) = tuned.drill.first_cause() {
        let _ = write!(out, "<p>In the proof, first of all: {}.</p>", Escaped(cause));
    }
    let nudge = |nudge: Option<&Nudge>| match nudge {
        None => ["–".to_owned(), "–".to_owned(), "–".to_owned()],
        Some(nudge) => [
            nudge.value.clone(),
            nudge.faster_s.map_or_else(|| "–".to_owned(), |s| figure(s * 1e3, 1)),
            kinds_or_none(&nudge.failures),
        ],
    };
    let row = |limit: &TuneLimit| {
        let mut row = vec![limit.field.clone()];
        row.extend(nudge(limit.nudges[0].as_ref()));
        row.extend([limit.value.clone(), kinds_or_none(&limit.failures)]);
        row.extend(nudge(limit.nudges[1].as_ref()));
        row
    };
    let headings = [
        "field",
        "less",
        "faster by, ms",
        "fail",
        "tuned",
        "fail",
        "more",
        "faster by, ms",
        "fail",
    ];
    if let Some(limit) = tuned.limits.first() {
        let _ = write!(
            out,
            "<p>Each field moved a little to either side, {} executions each, with the same luck.</p>",
            limit.failures.trials()
        );
    }
    table::draw(out, "figures", &headings, tuned.limits.iter().map(row));
}

/// How many fail, with the kinds where any do.
fn kinds_or_none(failures: &Failures) -> String {
    match failures.count() {
        0 => "0".to_owned(),
        count => format!("{count}: {}", kinds::in_a_cell(failures)),
    }
}

fn rounds(out: &mut String, tuning: &Tuning) {
    out.push_str("<h3>The race</h3>");
    let row = |round: &dryturn_studies::Round| {
        vec![
            round.trials.to_string(),
            round.began.to_string(),
            round.failing.to_string(),
            round.slower.to_string(),
            round.beyond.to_string(),
            round.stayed.to_string(),
            round.best_ms.map_or_else(|| "–".to_owned(), |ms| figure(ms, 1)),
        ]
    };
    let headings = [
        "trials each",
        "settings",
        "out: fail too often",
        "out: slower",
        "out: no place",
        "left",
        "median of the best, ms",
    ];
    table::draw(out, "figures", &headings, tuning.rounds.iter().map(row));
}
