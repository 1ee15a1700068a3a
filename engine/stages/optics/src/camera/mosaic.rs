//! Colour filters in front of the pixels, and their removal.

use dryturn_scene::file::Mosaic;

use super::sensor::CHANNELS;

const RED: usize = 0;
const GREEN: usize = 1;
const BLUE: usize = 2;

/// Channel of the pixel at a row and column; `None` where each pixel has all three.
#[must_use]
pub fn channel_at(mosaic: Mosaic, row: usize, column: usize) -> Option<usize> {
    let block = match mosaic {
        Mosaic::None => return None,
        Mosaic::Rggb => [RED, GREEN, GREEN, BLUE],
        Mosaic::Bggr => [BLUE, GREEN, GREEN, RED],
        Mosaic::Grbg => [GREEN, RED, BLUE, GREEN],
        Mosaic::Gbrg => [GREEN, BLUE, RED, GREEN],
    };
    Some(block[2 * (row % 2) + column % 2])
}

/// Codes of a sensor, row-major: one a pixel behind a mosaic, else three.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Raw {
    /// Filters in front of the pixels.
    pub mosaic: Mosaic,
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// The codes.
    pub codes: Vec<u16>,
}

impl Raw {
    /// The three codes of a pixel. What its filter keeps out is the mean of the nearest
    /// two or four pixels that have it (bilinear demosaicing), rounded half up; at the
    /// rim the picture goes on as its own mirror image.
    #[must_use]
    pub fn rgb(&self, row: usize, column: usize) -> [u16; CHANNELS] {
        let Some(own) = channel_at(self.mosaic, row, column) else {
            let at = CHANNELS * (row * self.width + column);
            return [self.codes[at], self.codes[at + 1], self.codes[at + 2]];
        };
        // One pixel on, one back; mirrored at the rim.
        let (up, down) = beside(row, self.height);
        let (left, right) = beside(column, self.width);
        let at = |r: usize, c: usize| u32::from(self.codes[r * self.width + c]);
        let across = at(row, left) + at(row, right);
        let along = at(up, column) + at(down, column);
        let mut rgb = [0; CHANNELS];
        rgb[own] = at(row, column) as u16;
        if own == GREEN {
            // Red lies beside a green pixel in one direction, blue in the other.
            let neighbour = channel_at(self.mosaic, row, column + 1).unwrap_or(RED);
            rgb[neighbour] = across.div_ceil(2) as u16;
            rgb[BLUE - neighbour] = along.div_ceil(2) as u16;
        } else {
            let corners = at(up, left) + at(up, right) + at(down, left) + at(down, right);
            rgb[GREEN] = ((across + along + 2) / 4) as u16;
            rgb[BLUE - own] = ((corners + 2) / 4) as u16;
        }
        rgb
    }

    /// For each pixel, whether any code that [`Raw::rgb`] uses for it is at least
    /// `ceiling`.
    #[must_use]
    pub fn clipped(&self, ceiling: u16) -> Vec<bool> {
        let mut clipped = vec![false; self.width * self.height];
        let a_pixel = self.codes.len() / clipped.len().max(1);
        let reach = usize::from(self.mosaic != Mosaic::None);
        for (i, _) in self.codes.iter().enumerate().filter(|(_, code)| **code >= ceiling) {
            let (row, column) = (i / a_pixel / self.width, i / a_pixel % self.width);
            let columns = column.saturating_sub(reach)..(column + reach + 1).min(self.width);
            for r in row.saturating_sub(reach)..(row + reach + 1).min(self.height) {
                clipped[r * self.width + columns.start..r * self.width + columns.end].fill(true);
            }
        }
        clipped
    }
}

/// The places before and after, of `size`; at an end both are the one inside.
fn beside(place: usize, size: usize) -> (usize, usize) {
    match place {
        0 => (1, 1),
        last if last + 1 == size => (last - 1, last - 1),
        inside => (inside - 1, inside + 1),
    }
}
