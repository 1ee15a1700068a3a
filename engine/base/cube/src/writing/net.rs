//! The cube as text: an unfolded net for people, six named faces for files.

use thiserror::Error;

use crate::{Colouring, Face, Facelet};

/// The unfolded net, nine lines of letters: U above F, then L F R B in a row,
/// then D below F. `letter` gives each place its mark.
#[must_use]
pub fn draw(letter: impl Fn(Facelet) -> char) -> String {
    let row = |face: Face, row: usize| -> String {
        (0..3).map(|column| letter(Facelet::new(face, row, column))).collect()
    };
    let mut lines = Vec::with_capacity(9);
    lines.extend((0..3).map(|r| format!("    {}", row(Face::U, r))));
    lines.extend(
        (0..3).map(|r| [Face::L, Face::F, Face::R, Face::B].map(|face| row(face, r)).join(" ")),
    );
    lines.extend((0..3).map(|r| format!("    {}", row(Face::D, r))));
    lines.join("\n")
}

/// What is wrong in a text of six named faces.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FacesError {
    /// A word that is not `FACE=row/row/row`.
    #[error("'{word}': a face is written FACE=row/row/row, for instance U=UUU/UUU/UUU")]
    NotAFace {
        /// The word, shortened to 20 characters.
        word: String,
    },
    /// A face that is given twice.
    #[error("face {face} is given twice")]
    Twice {
        /// The face.
        face: Face,
    },
    /// A face that is not given.
    #[error("face {face} is missing; all of U R F D L B must be given")]
    Missing {
        /// The face.
        face: Face,
    },
    /// A row that is not three letters of U R F D L B.
    #[error("face {face}, row {row} is '{text}': a row is three letters of U R F D L B")]
    Row {
        /// The face.
        face: Face,
        /// Counted from 1.
        row: usize,
        /// What stands there, shortened to 20 characters.
        text: String,
    },
}

/// Six named faces of three rows, rows and columns as in the net:
/// `U=UUU/UUU/UUU R=… F=… D=… L=… B=…`.
#[must_use]
pub fn write_faces(colours: &Colouring) -> String {
    let face = |face: Face| {
        let rows = [0, 1, 2].map(|row| {
            (0..3)
                .map(|column| colours[Facelet::new(face, row, column).index()].letter())
                .collect::<String>()
        });
        format!("{face}={}", rows.join("/"))
    };
    Face::ALL.map(face).join(" ")
}

/// Reads what [`write_faces`] writes; the faces may come in any order and be
/// separated by any white space.
///
/// # Errors
/// The first fault, with its face and row.
pub fn parse_faces(text: &str) -> Result<Colouring, FacesError> {
    let mut found: [Option<[[Face; 3]; 3]>; 6] = [None; 6];
    for word in text.split_whitespace() {
        let shortened = |s: &str| s.chars().take(20).collect::<String>();
        let not_a_face = || FacesError::NotAFace { word: shortened(word) };
        let (name, rows) = word.split_once('=').ok_or_else(not_a_face)?;
        let face = match name.chars().collect::<Vec<_>>()[..] {
            [letter] => Face::from_letter(letter).ok_or_else(not_a_face)?,
            _ => return Err(not_a_face()),
        };
        let rows: Vec<&str> = rows.split('/').collect();
        let rows: [&str; 3] = rows.try_into().map_err(|_| not_a_face())?;
        let mut grid = [[Face::U; 3]; 3];
        for (row, line) in rows.into_iter().enumerate() {
            let letters: Option<Vec<Face>> = line.chars().map(Face::from_letter).collect();
            grid[row] = letters.and_then(|l| l.try_into().ok()).ok_or_else(|| FacesError::Row {
                face,
                row: row + 1,
                text: shortened(line),
            })?;
        }
        if found[face.index()].replace(grid).is_some() {
            return Err(FacesError::Twice { face });
        }
    }
    let mut colours = [Face::U; Facelet::COUNT];
    for face in Face::ALL {
        let grid = found[face.index()].ok_or(FacesError::Missing { face })?;
        for (row, line) in grid.into_iter().enumerate() {
            for (column, colour) in line.into_iter().enumerate() {
                colours[Facelet::new(face, row, column).index()] = colour;
            }
        }
    }
    Ok(colours)
}
