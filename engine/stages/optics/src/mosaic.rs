//! Colour filters in front of the pixels, and their removal.

use dryturn_scene::file::Mosaic;

use crate::sensor::CHANNELS;

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
        let inside = |at: isize, size: usize| {
            let last = size as isize - 1;
            (if at < 0 {
                -at
            } else if at > last {
                2 * last - at
            } else {
                at
            }) as usize
        };
        let near = |down: isize, right: isize| {
            let r = inside(row as isize + down, self.height);
            let c = inside(column as isize + right, self.width);
            u32::from(self.codes[r * self.width + c])
        };
        let (left, up) = (near(0, -1) + near(0, 1), near(-1, 0) + near(1, 0));
        let cross = || ((left + up + 2) / 4) as u16;
        let corners = || {
            let sum = near(-1, -1) + near(-1, 1) + near(1, -1) + near(1, 1);
            ((sum + 2) / 4) as u16
        };
        let mut rgb = [0; CHANNELS];
        rgb[own] = near(0, 0) as u16;
        if own == GREEN {
            // Red lies beside a green pixel in one direction, blue in the other.
            let beside = channel_at(self.mosaic, row, column + 1).unwrap_or(RED);
            rgb[beside] = left.div_ceil(2) as u16;
            rgb[BLUE - beside] = up.div_ceil(2) as u16;
        } else {
            rgb[GREEN] = cross();
            rgb[BLUE - own] = corners();
        }
        rgb
    }

    /// Whether any code that [`Raw::rgb`] uses for a pixel is at least `ceiling`.
    #[must_use]
    pub fn clipped(&self, row: usize, column: usize, ceiling: u16) -> bool {
        if self.mosaic == Mosaic::None {
            let at = CHANNELS * (row * self.width + column);
            return self.codes[at..at + CHANNELS].iter().any(|&code| code >= ceiling);
        }
        let rows = row.saturating_sub(1)..(row + 2).min(self.height);
        let columns = column.saturating_sub(1)..(column + 2).min(self.width);
        rows.into_iter().any(|r| {
            let at = r * self.width;
            self.codes[at + columns.start..at + columns.end].iter().any(|&code| code >= ceiling)
        })
    }
}
