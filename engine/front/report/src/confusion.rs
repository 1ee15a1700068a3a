//! What was taken for what: a table of true colours by colours read.

use core::fmt::Write as _;

use dryturn_cube::Face;
use dryturn_scene::Scene;

use crate::pass::colour_name;

/// Rows are true colours, columns what they were read as; `same` writes the diagonal.
pub(crate) fn table(
    out: &mut String,
    scene: &Scene,
    counts: &[[usize; 6]; 6],
    same: impl Fn(usize) -> String,
) {
    let names = Face::ALL.map(|face| colour_name(scene, face));
    out.push_str("<table class=\"confusion\"><thead><tr><th>true \\ read</th>");
    // Writing to a String cannot fail.
    names.iter().for_each(|name| out.push_str(&format!("<th>{name}</th>")));
    out.push_str("</tr></thead><tbody>");
    for (truth, row) in counts.iter().enumerate() {
        let _ = write!(out, "<tr><th>{}</th>", names[truth]);
        for (read, &count) in row.iter().enumerate() {
            let _ = match (truth == read, count) {
                (true, _) => write!(out, "<td class=\"same\">{}</td>", same(count)),
                (false, 0) => write!(out, "<td>0</td>"),
                (false, _) => write!(out, "<td class=\"wrong-count\">{count}</td>"),
            };
        }
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table>");
}
