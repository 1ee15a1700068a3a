//! The outline of a region of pixels, along the pixels' edges.

use std::collections::BTreeMap;

/// A corner of pixels: column, row.
pub(super) type Corner = (i32, i32);

/// Closed outlines of a region; `inside(column, row)` says what belongs to it, within
/// `0..width` and `0..height`. Outer outlines run clockwise as seen, holes the other
/// way. Pixels that touch at a corner only are separate.
pub(super) fn outlines(
    (width, height): (usize, usize),
    inside: impl Fn(i32, i32) -> bool,
) -> Vec<Vec<Corner>> {
    let mut edges: BTreeMap<Corner, Vec<Corner>> = BTreeMap::new();
    for y in 0..height as i32 {
        for x in 0..width as i32 {
            if !inside(x, y) {
                continue;
            }
            let sides = [
                ((x, y - 1), (x, y), (x + 1, y)),
                ((x + 1, y), (x + 1, y), (x + 1, y + 1)),
                ((x, y + 1), (x + 1, y + 1), (x, y + 1)),
                ((x - 1, y), (x, y + 1), (x, y)),
            ];
            for ((nx, ny), from, to) in sides {
                if !inside(nx, ny) {
                    edges.entry(from).or_default().push(to);
                }
            }
        }
    }
    let mut loops = Vec::new();
    while let Some((&start, _)) = edges.first_key_value() {
        let mut corners = vec![start];
        let mut heading = (0, 0);
        let mut at = start;
        while let Some(ways) = edges.get_mut(&at) {
            // Where two outlines touch, turn right: that keeps them apart.
            let right = (-heading.1, heading.0);
            let turn = ways.iter().position(|to| (to.0 - at.0, to.1 - at.1) == right);
            let to = ways.swap_remove(turn.unwrap_or(ways.len() - 1));
            if ways.is_empty() {
                edges.remove(&at);
            }
            let next = (to.0 - at.0, to.1 - at.1);
            if next == heading {
                // Straight on: the corner between is none.
                corners.pop();
            }
            (heading, at) = (next, to);
            if at == start {
                break;
            }
            corners.push(at);
        }
        loops.push(corners);
    }
    loops
}

/// Twice the area of an outline; negative for a hole.
pub(super) fn twice_area(corners: &[Corner]) -> i64 {
    let next = corners.iter().cycle().skip(1);
    corners.iter().zip(next).map(|(a, b)| i64::from(a.0 * b.1 - b.0 * a.1)).sum()
}

/// Lengths of the runs outside and inside the region, column after column, outside
/// first: the run lengths of the COCO format.
pub(super) fn run_lengths(
    (width, height): (usize, usize),
    inside: impl Fn(i32, i32) -> bool,
) -> Vec<u32> {
    let (mut runs, mut run, mut within) = (Vec::new(), 0, false);
    for x in 0..width as i32 {
        for y in 0..height as i32 {
            if inside(x, y) != within {
                runs.push(run);
                (run, within) = (0, !within);
            }
            run += 1;
        }
    }
    runs.push(run);
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    fn region(rows: &'static [&'static str]) -> impl Fn(i32, i32) -> bool + Copy {
        move |x, y| {
            let row = usize::try_from(y).ok().and_then(|y| rows.get(y));
            let cell = |row: &&str| row.as_bytes().get(usize::try_from(x).ok()?).copied();
            row.and_then(cell) == Some(b'#')
        }
    }

    #[test]
    fn outlines_follow_the_pixels() {
        let inside = region(&["....", ".##.", ".###", "...."]);
        let loops = outlines((4, 4), inside);
        assert_eq!(loops, [[(1, 1), (3, 1), (3, 2), (4, 2), (4, 3), (1, 3)]]);
        assert_eq!(twice_area(&loops[0]), 2 * 5);
    }

    #[test]
    fn holes_and_touching_corners() {
        let ring = region(&["###", "#.#", "###"]);
        let areas = |loops: &[Vec<Corner>]| loops.iter().map(|l| twice_area(l)).collect::<Vec<_>>();
        assert_eq!(areas(&outlines((3, 3), ring)), [18, -2]);
        let corners = region(&["#.", ".#"]);
        assert_eq!(areas(&outlines((2, 2), corners)), [2, 2]);
        assert_eq!(run_lengths((2, 2), corners), [0, 1, 2, 1]);
        assert_eq!(run_lengths((3, 3), ring), [0, 4, 1, 4]);
    }
}
