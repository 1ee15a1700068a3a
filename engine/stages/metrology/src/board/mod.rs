//! A flat chessboard in a picture: its inner corners, to a small part of a pixel.

mod corners;
mod grey;
mod grid;
mod refine;

use dryturn_geometry::{DVec2, DVec3};
use dryturn_handoff::Frame;
use thiserror::Error;

use corners::corners;
use grey::Grey;
use grid::{Grown, grow};
use refine::refine;

/// Pictures wider or higher are made smaller to look for the board in.
const SEARCHED_PX: usize = 1280;
/// Smallest side of a picture that is still searched.
const LEAST_PX: usize = 64;

/// The target: rows and columns of inner corners (where four squares meet), and the edge
/// of a square.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Board {
    /// Inner corners along one side, from 3.
    pub columns: usize,
    /// Inner corners along the other side, from 3.
    pub rows: usize,
    /// From one corner to the next, mm.
    pub pitch_mm: f64,
}

/// Why a board is not one.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum BoardError {
    /// Too small or too large.
    #[error("{columns} × {rows} inner corners: must be 3 to 60 each way")]
    Size {
        /// As given.
        columns: usize,
        /// As given.
        rows: usize,
    },
    /// A pitch that cannot be.
    #[error("a pitch of {pitch_mm} mm: must be 0.1 to 1000")]
    Pitch {
        /// As given.
        pitch_mm: f64,
    },
    /// The picture does not show it.
    #[error(
        "{picture}: the board of {columns} × {rows} inner corners is not found; {best}. All of \
         it must be seen, sharp, with squares of at least 8 pixels"
    )]
    NotFound {
        /// The picture's name.
        picture: String,
        /// As given.
        columns: usize,
        /// As given.
        rows: usize,
        /// What was found at best.
        best: String,
    },
}

impl Board {
    /// A board.
    ///
    /// # Errors
    /// Rows, columns or a pitch out of range.
    pub fn new(columns: usize, rows: usize, pitch_mm: f64) -> Result<Self, BoardError> {
        if !(3..=60).contains(&columns) || !(3..=60).contains(&rows) {
            return Err(BoardError::Size { columns, rows });
        }
        if !(0.1..=1000.0).contains(&pitch_mm) {
            return Err(BoardError::Pitch { pitch_mm });
        }
        Ok(Self { columns, rows, pitch_mm })
    }

    /// The corners on the board, mm, row by row; its middle is the origin, z = 0.
    #[must_use]
    pub fn points(&self) -> Vec<DVec3> {
        let half = |count: usize| (count as f64 - 1.0) / 2.0;
        let place = |i: usize| {
            let (row, column) = ((i / self.columns) as f64, (i % self.columns) as f64);
            DVec3::new(column - half(self.columns), row - half(self.rows), 0.0) * self.pitch_mm
        };
        (0..self.columns * self.rows).map(place).collect()
    }

    /// The corners in a picture, px, in the order of [`Board::points`]. Which of the
    /// board's corners comes first is open (the board looks the same turned by 180°, a
    /// square one by 90°); it is never mirrored. Any tone curve will do: a corner is where
    /// four squares meet, whatever their greys.
    ///
    /// # Errors
    /// A picture that does not show the whole board.
    pub fn find(&self, frame: &Frame, picture: &str) -> Result<Vec<DVec2>, BoardError> {
        let mut levels = vec![Grey::of(frame)];
        while let Some(smaller) = levels.last().and_then(Grey::halved) {
            levels.push(smaller);
        }
        let largest = |level: &Grey| level.width.max(level.height) <= SEARCHED_PX;
        let first = levels.iter().position(largest).unwrap_or(levels.len() - 1);
        // The usual size, then smaller ones for blurred pictures, then larger ones for
        // small squares.
        let order = (first..levels.len()).chain((0..first).rev());
        let mut best: Option<Grown> = None;
        let mut vague = false;
        for level in order {
            let found = grow(&corners(&levels[level]), [self.columns, self.rows]);
            if let Some(places) = &found.whole {
                let factor = f64::from(1u32 << level);
                let start = places.iter().map(|&p| (p + 0.5) * factor - 0.5).collect();
                if let Some(exact) = refine(&levels[0], start, self.columns) {
                    return Ok(exact);
                }
                vague = true;
            }
            if best.as_ref().is_none_or(|best| best.count < found.count) {
                best = Some(found);
            }
        }
        let best = match best.filter(|best| best.count >= 4) {
            _ if vague => "all its corners are seen, but the exact place of one of them cannot be \
                           told: it is too near the picture's rim or too blurred"
                .to_owned(),
            Some(Grown { size: [a, b], count, .. }) => {
                format!("at best {count} corners in a grid of {a} × {b} are seen")
            }
            None => "no chessboard is seen".to_owned(),
        };
        let (columns, rows) = (self.columns, self.rows);
        Err(BoardError::NotFound { picture: picture.to_owned(), columns, rows, best })
    }
}

#[cfg(test)]
mod tests;
