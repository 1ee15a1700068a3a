//! Pictures made small, to be shown beside many others.

use dryturn_handoff::Frame;

/// Width of a small picture, px.
const TILE_PX: usize = 213;

/// A picture as it stands on a sheet: no wider than a tile, each pixel the mean of those
/// it covers.
#[must_use]
pub fn small(frame: &Frame) -> Frame {
    let width = TILE_PX.min(frame.width);
    let height = (frame.height * width / frame.width).max(1);
    let mut pixels = Vec::with_capacity(3 * width * height);
    let span = |i: usize, from: usize, to: usize| {
        i * from / to..((i + 1) * from / to).max(i * from / to + 1)
    };
    for row in 0..height {
        for column in 0..width {
            let (rows, columns) =
                (span(row, frame.height, height), span(column, frame.width, width));
            let count = (rows.len() * columns.len()) as u32;
            for c in 0..3 {
                let sum: u32 = rows
                    .clone()
                    .flat_map(|r| columns.clone().map(move |k| 3 * (r * frame.width + k) + c))
                    .map(|at| u32::from(frame.pixels[at]))
                    .sum();
                pixels.push(((sum + count / 2) / count) as u8);
            }
        }
    }
    Frame { camera: frame.camera.clone(), width, height, pixels }
}
