//! Where four squares may meet: saddle points of the grey values with four sectors, dark
//! and light in turn, round them.

use dryturn_geometry::DVec2;
use dryturn_units::maths;

use super::grey::Grey;

/// Width of the smoothing, px.
const SMOOTHING_PX: f64 = 1.5;
/// Looked at round a corner: so many places on a circle of so many pixels.
const RING: usize = 32;
const RING_PX: f64 = 4.5;
/// Least step between dark and light, codes of 255.
const LEAST_STEP: f64 = 8.0;
/// Opposite edges of a corner are in line within so many radians (lens and noise bend
/// them).
const MOST_BEND: f64 = 0.5;
/// Most candidates: the strongest.
const MOST_CANDIDATES: usize = 6000;

/// A candidate.
#[derive(Clone, Copy, Debug)]
pub(super) struct Corner {
    pub(super) place: DVec2,
    /// The two edges that cross here, unit vectors with an open sign; from the first to the
    /// second by less than 180° the way from x to y.
    pub(super) edges: [DVec2; 2],
    /// Whether the sector from the first edge to the second is light.
    pub(super) light: bool,
}

/// All candidates, the strongest first.
pub(super) fn corners(picture: &Grey) -> Vec<Corner> {
    let smooth = picture.smoothed(SMOOTHING_PX);
    let (width, height) = (smooth.width, smooth.height);
    let margin = RING_PX.ceil() as usize + 1;
    if width <= 2 * margin || height <= 2 * margin {
        return Vec::new();
    }
    // Negative determinant of the second derivatives: large where it falls one way and
    // rises the other.
    let mut saddle = vec![0.0f32; width * height];
    for y in 1..height - 1 {
        for x in 1..width - 1 {
            let at = |dx: usize, dy: usize| smooth.at(x + dx - 1, y + dy - 1);
            let xx = at(0, 1) - 2.0 * at(1, 1) + at(2, 1);
            let yy = at(1, 0) - 2.0 * at(1, 1) + at(1, 2);
            let xy = (at(0, 0) + at(2, 2) - at(0, 2) - at(2, 0)) / 4.0;
            saddle[y * width + x] = xy * xy - xx * yy;
        }
    }
    let mut peaks: Vec<(f32, usize)> = Vec::new();
    for y in margin..height - margin {
        for x in margin..width - margin {
            let i = y * width + x;
            let own = saddle[i];
            if own < 0.2 {
                continue;
            }
            let beaten = (y - 2..=y + 2).flat_map(|v| (x - 2..=x + 2).map(move |u| (u, v)));
            // Of equals the first counts.
            let beaten = beaten.map(|(u, v)| v * width + u);
            if beaten.into_iter().all(|j| saddle[j] < own || (saddle[j] == own && j >= i)) {
                peaks.push((own, i));
            }
        }
    }
    peaks.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    peaks.truncate(MOST_CANDIDATES);
    let corner = |&(_, i): &(f32, usize)| {
        look_round(&smooth, DVec2::new((i % width) as f64, (i / width) as f64))
    };
    peaks.iter().filter_map(corner).collect()
}

/// The four sectors round a place, if there are four.
fn look_round(picture: &Grey, place: DVec2) -> Option<Corner> {
    let step = core::f64::consts::TAU / RING as f64;
    let mut ring = [0.0; RING];
    for (k, value) in ring.iter_mut().enumerate() {
        let (sin, cos) = (maths::sin(k as f64 * step), maths::cos(k as f64 * step));
        *value = picture.between(place + DVec2::new(cos, sin) * RING_PX)?;
    }
    let (low, high) = ring.iter().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
    if high - low < LEAST_STEP {
        return None;
    }
    let middle = (low + high) / 2.0;
    let mut crossings = Vec::new();
    for k in 0..RING {
        let (a, b) = (ring[k] - middle, ring[(k + 1) % RING] - middle);
        if (a >= 0.0) != (b >= 0.0) {
            crossings.push(((k as f64 + a / (a - b)) * step, b >= 0.0));
        }
    }
    let &[(a, to_light), (b, _), (c, _), (d, _)] = crossings.as_slice() else { return None };
    let pi = core::f64::consts::PI;
    let narrow = (b - a).min(c - b).min(d - c);
    if (c - a - pi).abs() > MOST_BEND || (d - b - pi).abs() > MOST_BEND || narrow < 0.3 {
        return None;
    }
    let along = |x: f64, y: f64| {
        let angle = (x + y - pi) / 2.0;
        DVec2::new(maths::cos(angle), maths::sin(angle))
    };
    Some(Corner { place, edges: [along(a, c), along(b, d)], light: to_light })
}
