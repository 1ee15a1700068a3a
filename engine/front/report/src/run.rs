//! One execution as a section of the report, and what passes show of theirs.

use core::fmt::Write as _;

use dryturn_cube::{CubeState, Face};
use dryturn_handoff::{Jam, Run};
use dryturn_record::ShownRun;

use crate::html::{Escaped, figure};
use crate::page::POINTER;
use crate::{course, stacked, table, timing};

/// Most faces that were pushed through that are listed.
const LISTED: usize = 20;

pub(crate) fn section(shown: &ShownRun) -> String {
    let ShownRun { title, scene, plan, run } = shown;
    let class = match (run.jam(), run.stop()) {
        (Some(_), _) => "jammed",
        (None, Some(_)) => "stopped",
        (None, None) => "solved",
    };
    let mut out = format!(
        "<section class=\"run\"><h2>Execution: {}</h2><p class=\"verdict {class}\">{}</p>{POINTER}\
         <p>{} turns in {} beats on the axes of <i>{}</i>: {}.</p><p>{}</p>{}",
        Escaped(title),
        Escaped(outcome(run)),
        plan.turns().len(),
        plan.beats.len(),
        Escaped(&scene.file().name),
        Escaped(plan.notation()),
        Escaped(times(run)),
        timing::chart(run)
    );
    stands(&mut out, run);
    out.push_str("<h3>Angle budget</h3>");
    budget(&mut out, run);
    out.push_str("<h3>What each axis went through</h3>");
    axes(&mut out, run);
    out.push_str("<h3>Energy and power</h3>");
    energy(&mut out, run);
    let charts = course::charts(run, scene);
    if !charts.is_empty() {
        let _ = write!(out, "<h3>Course of the run</h3>{charts}");
    }
    out.push_str("</section>");
    out
}

/// How it ended, in a sentence.
fn outcome(run: &Run) -> String {
    let pushed = match run.pushed.len() {
        0 => String::new(),
        1 => " One face was brought to a stand and got through.".to_owned(),
        n => format!(" {n} faces were brought to a stand and got through."),
    };
    let ended = match (run.jam(), run.stop()) {
        (Some(jam), _) => format!("Jammed in {jam}."),
        (None, Some(stop)) => format!("Stopped in {stop}."),
        (None, None) => "Completed.".to_owned(),
    };
    ended + &pushed
}

/// Time beside the bound, worst angle, and how the cube ends up.
pub(crate) fn times(run: &Run) -> String {
    let (total_ms, bound_ms) = (run.total_s * 1e3, run.bound_s * 1e3);
    let completed = run.failure().is_none();
    let over = 100.0 * (run.total_s / run.bound_s - 1.0);
    let bound = match (completed, over.is_finite()) {
        (true, true) => format!(
            "No execution of this plan on this drive can be faster than {} ms; this one took {} % more",
            figure(bound_ms, 1),
            figure(over, 1)
        ),
        _ => format!(
            "No complete execution of this plan on this drive can be faster than {} ms",
            figure(bound_ms, 1)
        ),
    };
    let until = match (run.jam(), run.stop()) {
        (Some(_), _) => "until the jam ended it",
        (None, Some(_)) => "until it was broken off",
        (None, None) => "from the first command until the last face had settled",
    };
    let worst = run.beats.iter().map(|b| b.worst_offset_deg).fold(0.0, f64::max);
    let resent = match run.resent {
        0 => String::new(),
        1 => " One command was sent again.".to_owned(),
        n => format!(" {n} commands were sent again."),
    };
    format!(
        "{} ms {until}. {bound}. A face was at most {}° off its stop when a neighbour reached it; up \
         to {}° nothing touches, beyond about {}° it jams.{resent} The cube ends up {}.",
        figure(total_ms, 1),
        figure(worst, 2),
        figure(run.free_deg, 2),
        figure(run.jam_deg, 2),
        if run.final_state == CubeState::SOLVED { "solved" } else { "unsolved" }
    )
}

/// Every face that was brought to a stand; nothing where none was.
pub(crate) fn stands(out: &mut String, run: &Run) {
    let mut all: Vec<&Jam> = run.pushed.iter().chain(run.jam()).collect();
    all.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    if all.is_empty() {
        return;
    }
    let row = |jam: &&Jam| {
        vec![
            figure(jam.time_s * 1e3, 1),
            (jam.beat + 1).to_string(),
            format!("{} after {}°", jam.met.blocked_face, figure(jam.met.blocked_angle_deg, 1)),
            format!("{} by {}°", jam.met.late_face, figure(jam.met.late_angle_deg, 2)),
            figure(jam.met.allowed_deg, 2),
            figure(jam.peak_torque_n_m, 2),
            table::safety(jam.safety_factor_ratio),
            jam.verdict.words().to_owned(),
            jam.noticed_s.map_or("not noticed".to_owned(), |s| figure(s * 1e3, 1)),
            jam.blame.words(jam.met.late_face),
        ]
    };
    let headings = [
        "at, ms",
        "beat",
        "blocked",
        "off its stop",
        "allowed, °",
        "peak torque, N·m",
        "safety factor",
        "what became of it",
        "noticed at, ms",
        "to blame",
    ];
    out.push_str("<h3>Faces that were brought to a stand</h3>");
    // The last ones, for a jam that ended the run is the last.
    let unlisted = all.len().saturating_sub(LISTED);
    if unlisted > 0 {
        let _ = write!(out, "<p>{} in all; the last {LISTED} are listed.</p>", all.len());
    }
    table::draw(out, "listed", &headings, all[unlisted..].iter().map(row));
    out.push_str(
        "<p class=\"aside\">Angles are positive clockwise. Safety factor: the strength of the blocked \
         face's shaft over the largest torque in it.</p>",
    );
}

/// What may put each face off its stop, drawn and as a table.
pub(crate) fn budget(out: &mut String, run: &Run) {
    let names = ["encoder", "homing", "half the play", "wind-up", "hand-over window"];
    let parts = |face: Face| {
        let b = &run.axes[face.index()].budget;
        [b.encoder_deg, b.homing_deg, b.backlash_deg, b.wind_up_deg, b.window_deg]
    };
    let rows = Face::ALL.map(|face| (face.to_string(), parts(face).to_vec()));
    let levels = [
        (run.free_deg, format!("touches from {}°", figure(run.free_deg, 2))),
        (run.jam_deg, format!("jams from {}°", figure(run.jam_deg, 2))),
    ];
    out.push_str(&stacked::draw(
        "Angle budget of each axis",
        "angle off the stop if all adds up, °",
        &names.map(str::to_owned),
        &rows,
        &levels,
    ));
    let row = |face: Face| {
        let budget = &run.axes[face.index()].budget;
        let sum = budget.sum_deg();
        let means = match sum {
            sum if sum <= budget.free_deg => "cannot touch",
            sum if sum <= budget.jam_deg => "may touch",
            sum if sum.is_finite() => "may jam",
            _ => "–",
        };
        let mut cells = vec![face.to_string()];
        cells.extend(parts(face).map(|part| figure(part, 3)));
        cells.extend([sum, budget.free_deg, budget.jam_deg].map(|angle| figure(angle, 3)));
        cells.push(means.to_owned());
        cells
    };
    let headings = [
        &["face"][..],
        &["encoder, °", "homing, °", "half the play, °", "wind-up, °", "window, °"],
        &["sum, °", "touches from, °", "jams from, °", "if all adds up"],
    ];
    table::draw(out, "figures", &headings.concat(), Face::ALL.map(row));
    out.push_str(
        "<p class=\"aside\">The most that this axis has of each. Static friction winds up the shaft; \
         the shaft alone carries it, for the cube's own compliance lies behind the friction. The jam \
         angle is the closed form at nominal friction and hold torque.</p>",
    );
}

/// Torque, current and heat of each axis.
fn axes(out: &mut String, run: &Run) {
    let row = |face: Face| {
        let axis = &run.axes[face.index()];
        vec![
            face.to_string(),
            figure(axis.peak_torque_n_m, 2),
            figure(axis.ultimate_torque_n_m, 2),
            table::safety(axis.safety_factor_ratio()),
            figure(axis.peak_current_a, 1),
            figure(axis.winding_c, 1),
            figure(run.rest_deg[face.index()], 2),
        ]
    };
    let headings = [
        "face",
        "peak torque in the shaft, N·m",
        "shaft breaks at, N·m",
        "safety factor",
        "peak current, A",
        "winding at most, °C",
        "off its stop at the end, °",
    ];
    table::draw(out, "figures", &headings, Face::ALL.map(row));
}

/// Energy and power in a line.
pub(crate) fn energy_line(run: &Run) -> String {
    let (energy, power) = (&run.energy, &run.power);
    format!(
        "The supply gave {} J, of which {} J were burnt in the brake resistor, at most {} W at a \
         time. The bus was between {} and {} V, the brake resistor at most {} °C hot.",
        figure(energy.supply_j, 1),
        figure(energy.brake_j, 1),
        figure(power.peak_w, 0),
        figure(power.lowest_v, 1),
        figure(power.highest_v, 1),
        figure(power.resistor_c, 1)
    )
}

fn energy(out: &mut String, run: &Run) {
    let e = &run.energy;
    let _ = write!(out, "<p>{}</p>", energy_line(run));
    let terms = [
        ("given by the supply", e.supply_j),
        ("lost in the supply's resistance and wires", e.source_j),
        ("lost in the windings", e.copper_j),
        ("lost in friction", e.friction_j),
        ("burnt in the brake resistor", e.brake_j),
        ("done on pieces that met", e.jam_j),
        ("done on cogging and the cube's own pull to its stops", e.detent_j),
        ("gained by what still moves", e.kinetic_j),
        ("gained by bus capacitor, windings and twisted shafts", e.stored_j),
        ("unaccounted for by the simulation", e.unaccounted_j()),
    ];
    let rows = terms.map(|(what, joules)| {
        let share = 100.0 * joules / e.supply_j;
        // What is unaccounted for is small.
        let decimals = if what.starts_with("unaccounted") { 4 } else { 2 };
        vec![what.to_owned(), figure(joules, 3), figure(share, decimals)]
    });
    table::draw(out, "figures", &["energy", "J", "% of what was given"], rows);
}
