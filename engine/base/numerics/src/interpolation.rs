//! Values between samples.

use core::ops::{Add, Mul};

/// The value at `x` of the straight line through two points `(x, y)`, from the first one on: to
/// the bit the first's own value at the first, beyond both the line goes on. Not finite where
/// both have the same `x`.
#[must_use]
pub fn on_line(x: f64, from: (f64, f64), to: (f64, f64)) -> f64 {
    let share = (x - from.0) / (to.0 - from.0);
    from.1 + share * (to.1 - from.1)
}

/// The value at a place `[column, row]` between the four pixels around it, of a picture of `size`
/// columns and rows, whose first pixel's centre is (0, 0): linear in both directions. `None`
/// outside the picture, to which the centres of the last column and row count.
pub fn between_pixels<T: Add<Output = T> + Mul<f64, Output = T>>(
    [column, row]: [f64; 2],
    size: [usize; 2],
    pixel: impl Fn([usize; 2]) -> T,
) -> Option<T> {
    let (x, y) = (column.floor(), row.floor());
    let inside = x >= 0.0 && y >= 0.0 && x + 1.0 < size[0] as f64 && y + 1.0 < size[1] as f64;
    if !inside {
        return None;
    }
    let (u, v) = (column - x, row - y);
    let at = |dx: usize, dy: usize| pixel([x as usize + dx, y as usize + dy]);
    let upper = at(0, 0) * (1.0 - u) + at(1, 0) * u;
    let lower = at(0, 1) * (1.0 - u) + at(1, 1) * u;
    Some(upper * (1.0 - v) + lower * v)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On a plane it is the plane, at pixels the pixel.
    #[test]
    fn planes_are_met() {
        let pixel = |[column, row]: [usize; 2]| 1.0 + 2.0 * column as f64 - 4.0 * row as f64;
        let at = |place| between_pixels(place, [5, 4], pixel);
        assert_eq!(at([1.0, 2.0]), Some(-5.0));
        assert_eq!(at([1.25, 2.5]), Some(-6.5));
        assert_eq!(at([3.75, 0.0]), Some(8.5));
        for outside in [[-0.1, 1.0], [4.0, 1.0], [1.0, 3.0], [f64::NAN, 1.0]] {
            assert_eq!(at(outside), None);
        }
        assert_eq!(on_line(1.5, (1.0, 10.0), (3.0, 14.0)), 11.0);
        assert_eq!(on_line(4.0, (1.0, 10.0), (3.0, 14.0)), 16.0);
    }
}
