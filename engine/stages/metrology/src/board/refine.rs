//! Corners to a small part of a pixel: the place that every gradient nearby is
//! perpendicular to, seen from it (W. Förstner and E. Gülch 1987).

use dryturn_geometry::DVec2;
use dryturn_numerics::Symmetric2;
use dryturn_units::maths;

use super::grey::Grey;

/// Rounds at most, and the step in pixels at which a place is good.
const MOST_ROUNDS: usize = 60;
const SETTLED_PX: f64 = 1e-4;
/// Width of the smoothing, px: edges sharper than a pixel draw corners to the pixels' grid.
const SMOOTHING_PX: f64 = 1.0;
/// The window reaches so far towards the next corner, and so many pixels at least and most.
const WINDOW_SHARE: f64 = 0.35;
const WINDOW_PX: (f64, f64) = (3.0, 16.0);
/// A window ends so many pixels from the picture's rim: gradients reach one farther, and the
/// place moves a little.
const RIM_PX: f64 = 3.0;

/// All corners moved to their exact places; `None` where one runs away or has no room.
pub(super) fn refine(picture: &Grey, start: Vec<DVec2>, columns: usize) -> Option<Vec<DVec2>> {
    let nearest = |i: usize| {
        let beside = [
            (!i.is_multiple_of(columns)).then(|| i - 1),
            (i % columns + 1 < columns).then_some(i + 1),
            i.checked_sub(columns),
            Some(i + columns).filter(|&j| j < start.len()),
        ];
        let distances = beside.into_iter().flatten().map(|j| (start[j] - start[i]).length());
        distances.fold(f64::INFINITY, f64::min)
    };
    let picture = picture.smoothed(SMOOTHING_PX);
    (0..start.len()).map(|i| settle(&picture, start[i], nearest(i))).collect()
}

fn settle(picture: &Grey, start: DVec2, nearest_px: f64) -> Option<DVec2> {
    // A board that fills the picture has corners near its rim.
    let far = DVec2::new(picture.width as f64, picture.height as f64) - 1.0 - start;
    let room = start.min(far).min_element() - RIM_PX;
    let half = (WINDOW_SHARE * nearest_px).clamp(WINDOW_PX.0, WINDOW_PX.1).min(room).floor();
    if half < WINDOW_PX.0 {
        return None;
    }
    let mut place = start;
    for _ in 0..MOST_ROUNDS {
        let next = step(picture, place, half)?;
        if (next - start).length() > half.max(0.3 * nearest_px) {
            return None;
        }
        let moved = (next - place).length();
        place = next;
        if moved < SETTLED_PX {
            return Some(place);
        }
    }
    Some(place)
}

/// One round: gradients in a window round `place`, weighted towards its middle.
fn step(picture: &Grey, place: DVec2, half: f64) -> Option<DVec2> {
    let count = half as i32;
    let (mut xx, mut xy, mut yy, mut right) = (0.0, 0.0, 0.0, DVec2::ZERO);
    for v in -count..=count {
        for u in -count..=count {
            let off = DVec2::new(f64::from(u), f64::from(v));
            let at = |d: DVec2| picture.between(place + off + d);
            let gradient =
                DVec2::new(at(DVec2::X)? - at(-DVec2::X)?, at(DVec2::Y)? - at(-DVec2::Y)?);
            let weight = maths::exp(-2.0 * off.length_squared() / (half * half));
            let (gx, gy) = (gradient.x, gradient.y);
            xx += weight * gx * gx;
            xy += weight * gx * gy;
            yy += weight * gy * gy;
            right += gradient * (weight * gradient.dot(off));
        }
    }
    let matrix = Symmetric2 { xx, xy, yy };
    if matrix.determinant() <= 1e-6 * (xx + yy) * (xx + yy) {
        return None;
    }
    Some(place + DVec2::from_array(matrix.solve(right.to_array())))
}
