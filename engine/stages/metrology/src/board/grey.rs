//! Grey pictures: made smaller, smoothed, looked up between pixels.

use dryturn_geometry::DVec2;
use dryturn_handoff::Frame;
use dryturn_numerics::between_pixels;
use dryturn_units::maths;

/// Grey values, row-major from the top left.
#[derive(Clone, Debug)]
pub(super) struct Grey {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) values: Vec<f32>,
}

impl Grey {
    /// The luma of a picture's codes (ITU-R BT.601 weights), 0 to 255.
    pub(super) fn of(frame: &Frame) -> Self {
        let luma = |rgb: &[u8]| {
            0.299 * f32::from(rgb[0]) + 0.587 * f32::from(rgb[1]) + 0.114 * f32::from(rgb[2])
        };
        let values = frame.pixels.chunks_exact(3).map(luma).collect();
        Self { width: frame.width, height: frame.height, values }
    }

    pub(super) fn at(&self, column: usize, row: usize) -> f32 {
        self.values[row * self.width + column]
    }

    /// Half the size, each pixel the mean of four; `None` where that is too small.
    pub(super) fn halved(&self) -> Option<Self> {
        let (width, height) = (self.width / 2, self.height / 2);
        if width.min(height) < super::LEAST_PX {
            return None;
        }
        let value = |i: usize| {
            let (x, y) = (2 * (i % width), 2 * (i / width));
            let (above, below) =
                (self.at(x, y) + self.at(x + 1, y), self.at(x, y + 1) + self.at(x + 1, y + 1));
            (above + below) / 4.0
        };
        Some(Self { width, height, values: (0..width * height).map(value).collect() })
    }

    /// Smoothed by a Gaussian of this width, px; the rim is repeated outwards.
    pub(super) fn smoothed(&self, sigma_px: f64) -> Self {
        let reach = (3.0 * sigma_px).ceil() as usize;
        let weight = |i: usize| {
            let z = (i as f64 - reach as f64) / sigma_px;
            maths::exp(-0.5 * z * z)
        };
        let weights: Vec<f64> = (0..=2 * reach).map(weight).collect();
        let sum: f64 = weights.iter().sum();
        let weights: Vec<f32> = weights.iter().map(|w| (w / sum) as f32).collect();
        let (width, height) = (self.width, self.height);
        let inside =
            |i: usize, k: usize, count: usize| (i + k).saturating_sub(reach).min(count - 1);
        let along = |i: usize| {
            let (x, y) = (i % width, i / width);
            let term = |(k, w): (usize, &f32)| w * self.values[y * width + inside(x, k, width)];
            weights.iter().enumerate().map(term).sum::<f32>()
        };
        let rows: Vec<f32> = (0..width * height).map(along).collect();
        let down = |i: usize| {
            let (x, y) = (i % width, i / width);
            let term = |(k, w): (usize, &f32)| w * rows[inside(y, k, height) * width + x];
            weights.iter().enumerate().map(term).sum::<f32>()
        };
        Self { width, height, values: (0..width * height).map(down).collect() }
    }

    /// Between the four pixels around a place; `None` outside the picture.
    pub(super) fn between(&self, place: DVec2) -> Option<f64> {
        let pixel = |[column, row]: [usize; 2]| f64::from(self.at(column, row));
        between_pixels(place.to_array(), [self.width, self.height], pixel)
    }
}
