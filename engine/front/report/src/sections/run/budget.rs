//! The angle budget of each axis.

use dryturn_cube::Face;
use dryturn_handoff::Run;
use maud::{Markup, html};

use crate::charts::stacked;
use crate::html::figures::{DASH, figure};
use crate::html::table;

/// What may put each face off its stop, drawn and as a table.
pub(in crate::sections) fn budget(run: &Run) -> Markup {
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
    let row = |face: Face| {
        let budget = &run.axes[face.index()].budget;
        let sum = budget.sum_deg();
        let means = match sum {
            sum if sum <= budget.free_deg => "cannot touch",
            sum if sum <= budget.jam_deg => "may touch",
            sum if sum.is_finite() => "may jam",
            _ => DASH,
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
    html! {
        (stacked::draw(
            "Angle budget of each axis",
            "angle off the stop if all adds up, °",
            &names.map(str::to_owned),
            &rows,
            &levels,
        ))
        (table::draw("figures", &headings.concat(), Face::ALL.map(row)))
        p.aside {
            "The most that this axis has of each. Static friction winds up the shaft; the shaft \
             alone carries it, for the cube's own compliance lies behind the friction. The jam \
             angle is the closed form at nominal friction and hold torque."
        }
    }
}
