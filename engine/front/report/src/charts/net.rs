//! The unfolded net as a drawing: colour, letter, and a mark for what is not
//! simply seen, so that colour is never the only sign.

use dryturn_cube::{Face, Facelet};
use dryturn_scene::Scene;
use dryturn_scene::file::Pigment;
use maud::{Markup, html};

use crate::charts::svg;
use crate::html::framed;

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
pub(crate) fn draw(scene: &Scene, title: &str, cell: impl Fn(Facelet) -> Cell) -> Markup {
    let gap = 6;
    let side = 3 * CELL + gap;
    let (width, height) = (4 * side - gap, 3 * side - gap);
    let place = |facelet: Facelet| {
        let (column, row) = facelet.face().net_place();
        (column * side + facelet.column() * CELL, row * side + facelet.row() * CELL)
    };
    framed(html! {
        svg.net viewBox={ "0 0 " (width) " " (height) } width=(width) height=(height) role="img" {
            title { (title) }
            @for facelet in Facelet::all() {
                (sticker(scene, &cell(facelet), place(facelet)))
            }
        }
    })
}

fn sticker(scene: &Scene, cell: &Cell, (x, y): (usize, usize)) -> Markup {
    let colours = &scene.file().cube.colours;
    let (fill, ink) = cell.colour.map_or(("#8b8b8b", "#fff"), |face| paint(colours.of(face)));
    let side = CELL - 2;
    let (left, top, right, bottom) = (x + 2, y + 2, x + CELL - 2, y + CELL - 2);
    svg::tipped(
        &cell.title,
        html! {
            rect x=(x + 1) y=(y + 1) width=(side) height=(side) rx="3" fill=(fill) stroke="#222"
                stroke-width="1.2" stroke-dasharray=[cell.dashed.then_some("3 2")] {}
            text x=(x + CELL / 2) y=(y + CELL / 2 + 4) fill=(ink) { (cell.text) }
            @if cell.wrong {
                path.wrong d={
                    "M" (left) " " (top) "L" (right) " " (bottom)
                    "M" (right) " " (top) "L" (left) " " (bottom)
                } {}
            }
        },
    )
}
