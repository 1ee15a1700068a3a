//! Contact sheets: many pictures small, side by side.

use dryturn_handoff::Frame;
use dryturn_studies::small;

/// Space between pictures, px, and its grey.
const GAP_PX: usize = 6;
const GAP_GREY: u8 = 238;

/// One picture of many, row by row, `columns` in a row; empty for none.
#[must_use]
pub fn contact_sheet(frames: &[Frame], columns: usize) -> Option<Frame> {
    let tiles: Vec<Frame> = frames.iter().map(small).collect();
    let columns = columns.clamp(1, tiles.len().max(1));
    let tile_height = tiles.iter().map(|tile| tile.height).max()?;
    let tile_width = tiles.iter().map(|tile| tile.width).max()?;
    let rows = tiles.len().div_ceil(columns);
    let (step_x, step_y) = (tile_width + GAP_PX, tile_height + GAP_PX);
    let (width, height) = (columns * step_x + GAP_PX, rows * step_y + GAP_PX);
    let mut pixels = vec![GAP_GREY; 3 * width * height];
    for (i, tile) in tiles.iter().enumerate() {
        let (x, y) = (GAP_PX + i % columns * step_x, GAP_PX + i / columns * step_y);
        for (row, line) in tile.pixels.chunks_exact(3 * tile.width).enumerate() {
            let at = 3 * ((y + row) * width + x);
            pixels[at..at + line.len()].copy_from_slice(line);
        }
    }
    Some(Frame { camera: "contact sheet".to_owned(), width, height, pixels })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_stand_side_by_side() {
        let frame = |grey| Frame {
            camera: String::new(),
            width: 426,
            height: 2,
            pixels: vec![grey; 3 * 426 * 2],
        };
        let sheet = contact_sheet(&[frame(10), frame(20), frame(30)], 2).unwrap();
        assert_eq!((sheet.width, sheet.height), (2 * 219 + 6, 2 * 7 + 6));
        let at = |x: usize, y: usize| sheet.pixels[3 * (y * sheet.width + x)];
        assert_eq!(
            [at(0, 0), at(6, 6), at(6 + 219, 6), at(6, 13), at(6 + 219, 13)],
            [238, 10, 20, 30, 238]
        );
        assert_eq!(contact_sheet(&[], 3), None);
    }
}
