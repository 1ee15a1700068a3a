//! What lies behind a reading: samples and classes in the plane of colour, margins, cameras.

use dryturn_rehearsal::Pass;
use maud::{Markup, html};

use super::{plane, weakest};
use crate::html::table;

pub(super) fn details(pass: &Pass) -> Markup {
    html! {
        details {
            summary { "What lies behind the reading" }
            div.pictures {
                @if let Some(plane) = &pass.reading.plane { (plane::draw(pass, plane)) }
                (weakest::draw(pass))
            }
            (cameras(pass))
        }
    }
}

fn cameras(pass: &Pass) -> Markup {
    let cameras = &pass.scene.file().cameras;
    if pass.reading.cameras.len() != cameras.len() {
        return html! {};
    }
    let triple = |values: [f64; 3]| values.map(|v| format!("{v:.2}")).join(", ");
    let rows = cameras.iter().zip(&pass.reading.cameras).map(|(camera, found)| {
        vec![
            camera.name.clone(),
            triple(found.shift_mm),
            triple(found.turn_deg),
            format!("× {}", triple(found.light_ratio)),
        ]
    });
    let headings = [
        "camera",
        "found off the drawing, mm (right, down, forward)",
        "turned, ° (about the same)",
        "light since the calibration (red, green, blue)",
    ];
    html! {
        (table::draw("", &headings, rows))
        p.aside {
            "A shift across the view and a turn move a picture nearly alike, so only their sum is \
             well known."
        }
    }
}
