//! What was taken for what: a table of true colours by colours read.

use dryturn_cube::Face;
use dryturn_scene::Scene;
use maud::{Markup, html};

use crate::html::table;
use crate::sections::names::colour_name;

/// Rows are true colours, columns what they were read as; `same` writes the diagonal.
pub(crate) fn matrix(
    scene: &Scene,
    counts: &[[usize; 6]; 6],
    same: impl Fn(usize) -> String,
) -> Markup {
    let names = Face::ALL.map(|face| colour_name(scene, face));
    let head = html! {
        tr {
            th { "true \\ read" }
            @for name in &names { th { (name) } }
        }
    };
    let cell = |at: (usize, usize), count: usize| match count {
        _ if at.0 == at.1 => html! { td.same { (same(count)) } },
        0 => html! { td { "0" } },
        _ => html! { td.wrong-count { (count) } },
    };
    let rows = html! {
        @for (truth, row) in counts.iter().enumerate() {
            tr {
                th { (names[truth]) }
                @for (read, &count) in row.iter().enumerate() { (cell((truth, read), count)) }
            }
        }
    };
    table::laid_out("confusion", head, rows)
}
