//! Energy and power of a run.

use dryturn_handoff::Run;
use maud::{Markup, html};

use crate::html::figures::figure;
use crate::html::table;

/// Energy and power in a line.
pub(in crate::sections) fn energy_line(run: &Run) -> String {
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

pub(super) fn energy(run: &Run) -> Markup {
    let e = &run.energy;
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
    html! {
        p { (energy_line(run)) }
        (table::draw("figures", &["energy", "J", "% of what was given"], rows))
    }
}
