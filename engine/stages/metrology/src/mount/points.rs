//! Clicked points: a table of places in the world and in the picture.

use dryturn_cube::{CORNERS, corner_facelets};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_units::table::{rows, shown};
use thiserror::Error;

/// Most points.
const MOST_POINTS: usize = 10_000;
/// Farthest that a point may be from the cube's centre, mm.
const FARTHEST_MM: f64 = 5000.0;

/// A point with its place in the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct ClickedPoint {
    /// What messages call it.
    pub name: String,
    /// Where it is, mm.
    pub world: DVec3,
    /// Where it was clicked, px; the centre of the top-left pixel is (0, 0).
    pub pixel: DVec2,
}

/// What is wrong with a table of points.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PointsError {
    /// Another first line.
    #[error(
        "line 1 is {found:?}: must be point,column_px,row_px (points named by three faces, as \
         URF) or x_mm,y_mm,z_mm,column_px,row_px"
    )]
    Header {
        /// What stands there.
        found: String,
    },
    /// A row of another length.
    #[error("line {line}: {found} values: must be {wanted}")]
    Columns {
        /// Counted from 1.
        line: usize,
        /// How many stand there.
        found: usize,
        /// How many must.
        wanted: usize,
    },
    /// No corner of the cube.
    #[error("line {line}: point is {found:?}: must be {}", corner_names())]
    Name {
        /// Counted from 1.
        line: usize,
        /// What stands there.
        found: String,
    },
    /// A value that is no number, or out of range.
    #[error("line {line}: {column} is {found:?}: must be a number from {low} to {high}")]
    Number {
        /// Counted from 1.
        line: usize,
        /// The column.
        column: &'static str,
        /// What stands there.
        found: String,
        /// Least value.
        low: f64,
        /// Greatest value.
        high: f64,
    },
    /// The same point again.
    #[error("line {line}: point {name} stands in line {before} already")]
    Twice {
        /// Counted from 1.
        line: usize,
        /// The line of the first.
        before: usize,
        /// The point.
        name: String,
    },
    /// Too many.
    #[error("more than {MOST_POINTS} points")]
    TooMany,
}

/// Corners of the cube by their three faces, with the signs of x, y, z, in the order of
/// the cube's pieces.
fn corners() -> impl Iterator<Item = (&'static str, DVec3)> {
    (0..CORNERS).map(|slot| {
        let [first, ..] = corner_facelets(slot);
        (first.name(), DVec3::from(first.piece_position().map(f64::from)))
    })
}

fn corner_names() -> String {
    corners().map(|(name, _)| name).collect::<Vec<_>>().join(", ")
}

/// The cube's eight outer corners as if they were sharp, mm.
pub fn cube_corners(edge_mm: f64) -> impl Iterator<Item = (&'static str, DVec3)> {
    corners().map(move |(name, signs)| (name, signs * (edge_mm / 2.0)))
}

/// A corner by its three faces in any order.
fn corner(name: &str) -> Option<(&'static str, DVec3)> {
    let sorted = |text: &str| {
        let mut letters: Vec<char> = text.to_uppercase().chars().collect();
        letters.sort_unstable();
        letters
    };
    let wanted = sorted(name);
    corners().find(|(known, _)| sorted(known) == wanted)
}

/// Reads a table of points (CSV with a first line of names) for a picture of `size`
/// pixels. Empty lines, and lines that start with `#`, count for nothing.
///
/// # Errors
/// The first fault, with its line.
pub fn clicked_points(
    csv: &str,
    edge_mm: f64,
    size: [u32; 2],
) -> Result<Vec<ClickedPoint>, PointsError> {
    let mut rows = rows(csv);
    let header = rows.next().unwrap_or_default();
    let names = header.cells;
    let named = match names[..] {
        ["point", "column_px", "row_px"] => true,
        ["x_mm", "y_mm", "z_mm", "column_px", "row_px"] => false,
        _ => {
            return Err(PointsError::Header { found: shown(header.text, 60) });
        }
    };
    let mut points: Vec<(usize, ClickedPoint)> = Vec::new();
    for row in rows {
        let (line, cells) = (row.line, &row.cells);
        if cells.len() != names.len() {
            return Err(PointsError::Columns { line, found: cells.len(), wanted: names.len() });
        }
        let number = |k: usize, column: &'static str, low: f64, high: f64| {
            let found = || shown(cells[k], 40);
            row.number(k, low, high).ok_or_else(|| PointsError::Number {
                line,
                column,
                found: found(),
                low,
                high,
            })
        };
        let (name, world) = if named {
            let found = || PointsError::Name { line, found: shown(cells[0], 40) };
            let (name, signs) = corner(cells[0]).ok_or_else(found)?;
            (name.to_owned(), signs * (edge_mm / 2.0))
        } else {
            let at = |k, column| number(k, column, -FARTHEST_MM, FARTHEST_MM);
            let world = DVec3::new(at(0, "x_mm")?, at(1, "y_mm")?, at(2, "z_mm")?);
            (format!("({}, {}, {})", cells[0], cells[1], cells[2]), world)
        };
        let last = names.len() - 2;
        let pixel = DVec2::new(
            number(last, "column_px", -0.5, f64::from(size[0]) - 0.5)?,
            number(last + 1, "row_px", -0.5, f64::from(size[1]) - 0.5)?,
        );
        if let Some((before, _)) = points.iter().find(|(_, p)| p.world == world) {
            return Err(PointsError::Twice { line, before: *before, name });
        }
        if points.len() == MOST_POINTS {
            return Err(PointsError::TooMany);
        }
        points.push((line, ClickedPoint { name, world, pixel }));
    }
    Ok(points.into_iter().map(|(_, point)| point).collect())
}
