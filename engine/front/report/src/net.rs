//! The unfolded net as a drawing: colour, letter, and a mark for what is not
//! simply seen, so that colour is never the only sign.

use core::fmt::Write as _;

use dryturn_cube::{Face, Facelet};
use dryturn_scene::Scene;
use dryturn_scene::file::Pigment;

const CELL: usize = 26;

/// How a place is drawn.
pub(crate) struct Cell {
    /// Colour as its face; `None` where unknown.
    pub(crate) colour: Option<Face>,
    /// Text in the cell.
    pub(crate) text: String,
    /// Dashed rim: inferred or known by mounting.
    pub(crate) dashed: bool,
    /// Crossed out: read wrong.
    pub(crate) wrong: bool,
    /// Tooltip.
    pub(crate) title: String,
}

/// Fill and ink of a pigment on the page; chosen for legibility, not measured.
pub(crate) fn paint(pigment: Pigment) -> (&'static str, &'static str) {
    match pigment {
        Pigment::White => ("#f4f2ec", "#222"),
        Pigment::Yellow => ("#ecd02f", "#222"),
        Pigment::Orange => ("#e2812c", "#111"),
        Pigment::Red => ("#b3262c", "#fff"),
        Pigment::Green => ("#2c8a4b", "#fff"),
        Pigment::Blue => ("#2a56a8", "#fff"),
    }
}

/// The net as SVG.
pub(crate) fn draw(scene: &Scene, title: &str, cell: impl Fn(Facelet) -> Cell) -> String {
    let gap = 6;
    let side = 3 * CELL + gap;
    let (width, height) = (4 * side - gap, 3 * side - gap);
    let mut svg = format!(
        "<svg class=\"net\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
         role=\"img\"><title>{}</title>",
        crate::html::Escaped(title)
    );
    for facelet in Facelet::all() {
        let (column, row) = facelet.face().net_place();
        let x = column * side + facelet.column() * CELL;
        let y = row * side + facelet.row() * CELL;
        let cell = cell(facelet);
        let (fill, ink) = cell
            .colour
            .map_or(("#8b8b8b", "#fff"), |face| paint(scene.file().cube.colours.of(face)));
        let dash = if cell.dashed { " stroke-dasharray=\"3 2\"" } else { "" };
        // Writing to a String cannot fail.
        let _ = write!(
            svg,
            "<g><title>{}</title><rect x=\"{}\" y=\"{}\" width=\"{s}\" height=\"{s}\" rx=\"3\" \
             fill=\"{fill}\" stroke=\"#222\" stroke-width=\"1.2\"{dash}/>\
             <text x=\"{}\" y=\"{}\" fill=\"{ink}\">{}</text>",
            crate::html::Escaped(&cell.title),
            x + 1,
            y + 1,
            x + CELL / 2,
            y + CELL / 2 + 4,
            crate::html::Escaped(&cell.text),
            s = CELL - 2,
        );
        if cell.wrong {
            let (x2, y2) = (x + CELL - 2, y + CELL - 2);
            let _ = write!(
                svg,
                "<path class=\"wrong\" d=\"M{} {}L{x2} {y2}M{x2} {}L{} {y2}\"/>",
                x + 2,
                y + 2,
                y + 2,
                x + 2
            );
        }
        svg.push_str("</g>");
    }
    svg.push_str("</svg>");
    svg
}
