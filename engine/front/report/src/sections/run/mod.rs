//! One execution as a section of the report, and what passes show of theirs.

mod budget;
mod course;
mod energy;
mod stands;
mod words;

pub(super) use budget::budget;
pub(super) use course::charts;
pub(super) use energy::energy_line;
pub(super) use stands::stands;
pub(super) use words::times;

use dryturn_cube::Face;
use dryturn_handoff::Run;
use dryturn_record::ShownRun;
use maud::{Markup, html};

use crate::charts::timing;
use crate::html::figures::{figure, safety};
use crate::html::table;
use crate::sections::cautions;

pub(crate) fn section(shown: &ShownRun) -> Markup {
    let ShownRun { title, scene, plan, run } = shown;
    let class = match (run.jam(), run.stop()) {
        (Some(_), _) => "jammed",
        (None, Some(_)) => "stopped",
        (None, None) => "solved",
    };
    html! {
        section.run {
            h2 { "Execution: " (title) }
            p class={ "verdict " (class) } { (words::outcome(run)) }
            (cautions::pointer())
            p {
                (plan.turns().len()) " turns in " (plan.beats.len()) " beats on the axes of "
                i { (scene.file().name) } ": " (plan.notation()) "."
            }
            p { (times(run)) }
            (timing::chart(run))
            (stands(run))
            h3 { "Angle budget" }
            (budget(run))
            h3 { "What each axis went through" }
            (axes(run))
            h3 { "Energy and power" }
            (energy::energy(run))
            @if let Some(charts) = charts(run, scene) {
                h3 { "Course of the run" }
                (charts)
            }
        }
    }
}

/// Torque, current and heat of each axis.
fn axes(run: &Run) -> Markup {
    let row = |face: Face| {
        let axis = &run.axes[face.index()];
        vec![
            face.to_string(),
            figure(axis.peak_torque_n_m, 2),
            figure(axis.ultimate_torque_n_m, 2),
            safety(axis.safety_factor_ratio()),
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
    table::draw("figures", &headings, Face::ALL.map(row))
}
