//! Raw pictures and the temporal noise between two of them.

/// A picture as the sensor delivers it: linear codes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RawPicture {
    /// What messages call it.
    pub name: String,
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// `width · height` codes, row-major from the top left.
    pub codes: Vec<u16>,
}

/// Mean and temporal variance of two pictures of the same light, of one colour plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Level {
    /// Light, in any unit.
    pub(super) light: f64,
    /// Mean code.
    pub(super) mean: f64,
    /// Temporal variance of a code.
    pub(super) variance: f64,
    /// Pixels.
    pub(super) count: f64,
    /// Share of the codes that are the highest, or 0.
    pub(super) clipped_share: f64,
    /// Share of the codes that are 0.
    pub(super) zero_share: f64,
}

/// One plane of two pictures: every `step`-th column and row from `(column, row)`.
///
/// EMVA 1288 (Release 4.0, section on temporal noise; from memory): half the mean square
/// of the difference, less half the square of the means' difference, so that light that
/// drifts between the two does not count as noise.
pub(super) fn level(
    light: f64,
    [a, b]: &[RawPicture; 2],
    (column, row, step): (usize, usize, usize),
    highest: u16,
) -> Level {
    let (mut sum_a, mut sum_b, mut squares, mut count) = (0u64, 0u64, 0u64, 0u64);
    let (mut full, mut zero) = (0u64, 0u64);
    for y in (row..a.height).step_by(step) {
        for x in (column..a.width).step_by(step) {
            let (p, q) = (a.codes[y * a.width + x], b.codes[y * a.width + x]);
            sum_a += u64::from(p);
            sum_b += u64::from(q);
            squares += u64::from(p.abs_diff(q)) * u64::from(p.abs_diff(q));
            count += 1;
            full += u64::from(p >= highest) + u64::from(q >= highest);
            zero += u64::from(p == 0) + u64::from(q == 0);
        }
    }
    let n = count as f64;
    let (mean_a, mean_b) = (sum_a as f64 / n, sum_b as f64 / n);
    let drift = mean_a - mean_b;
    Level {
        light,
        mean: (mean_a + mean_b) / 2.0,
        variance: ((squares as f64 / n - drift * drift) / 2.0).max(0.0),
        count: n,
        clipped_share: full as f64 / (2.0 * n),
        zero_share: zero as f64 / (2.0 * n),
    }
}
