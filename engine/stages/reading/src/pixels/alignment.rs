//! Where the cameras really stand, from their pictures: where the facelets are most even,
//! and then exactly, by their borders ([`super::edges`]).
//!
//! A facelet is of one colour, and what surrounds it is not: a pose that puts the drawn
//! facelets on other ones, or on the gaps between them, finds mixed colours in each. The
//! pose with the least mixture is sought round the drawn one.

use dryturn_geometry::{DVec2, DVec3, Pose};
use dryturn_handoff::Frame;
use dryturn_scene::View;

use super::edges::{Border, follow, posed};

/// How far the mount may be off, in each of its axes: turns in degrees, then shifts in mm.
const REACH: [f64; 6] = [3.0, 3.0, 2.0, 6.0, 6.0, 6.0];
/// Steps of the first search over the two turns that move the picture.
const COARSE_STEPS: i32 = 7;
/// Steps of the second search in all axes at first, and how often they are halved.
const FINE: [f64; 6] = [0.25, 0.25, 0.4, 1.0, 1.0, 2.0];
const HALVINGS: usize = 5;
/// Tries at one size of steps.
const TRIES: usize = 6;
/// Codes, summed over the channels, from which a point is simply of another colour.
const MOST_OFF: f64 = 90.0;
/// Being off by the whole reach counts as much as so many codes a point: among poses that
/// are alike the drawn one is preferred.
const PREFERENCE: f64 = 8.0;
/// A pose other than the drawn one is taken if it has less than this share of the drawn
/// one's mixture.
const CONVINCING: f64 = 0.93;

/// By what factor the mixture may grow by following borders, which are exact where the
/// mixture is only near.
const SAME_PLACE: f64 = 1.25;

/// Points of one facelet, mm in the world.
pub(crate) type Points = Vec<DVec3>;

/// The pixel that shows a point, by number, row by row.
pub(crate) fn pixel_of(
    view: &View,
    pose: &Pose,
    (width, height): (usize, usize),
    point: DVec3,
) -> Option<usize> {
    let DVec2 { x, y } = view.lens.project(pose.to_camera(point))?;
    let (column, row) = (x.round(), y.round());
    let inside = column >= 0.0 && row >= 0.0 && column < width as f64 && row < height as f64;
    inside.then(|| row as usize * width + column as usize)
}

/// Mean mixture of the facelets, codes a point; infinite as soon as it is sure to be more than
/// `most`.
fn mixture((view, frame): (&View, &Frame), facelets: &[Points], off: &[f64; 6], most: f64) -> f64 {
    let pose = posed(&view.pose, off);
    let size = (frame.width, frame.height);
    let count = facelets.iter().map(Vec::len).sum::<usize>().max(1) as f64;
    let mut sum = 0.0;
    let mut colours: Vec<DVec3> = Vec::new();
    for points in facelets {
        colours.clear();
        colours.extend(points.iter().map(|&point| {
            pixel_of(view, &pose, size, point)
                .map_or(DVec3::ZERO, |at| DVec3::from_array(frame.pixel(at).0.map(f64::from)))
        }));
        let mean = colours.iter().sum::<DVec3>() / colours.len().max(1) as f64;
        sum += colours.iter().map(|c| (*c - mean).abs().element_sum().min(MOST_OFF)).sum::<f64>();
        if sum > most * count {
            return f64::INFINITY;
        }
    }
    sum / count
}

/// What being off the drawing counts, codes a point.
fn preference(off: &[f64; 6]) -> f64 {
    let off: f64 = off.iter().zip(REACH).map(|(v, reach)| v * v / (reach * reach)).sum();
    PREFERENCE * off
}

/// Follows the mixture down from a place, in all axes, by steps that are halved. What `of`
/// says above the figure that it is given does not matter.
fn descend(of: &impl Fn(&[f64; 6], f64) -> f64, from: [f64; 6]) -> (f64, [f64; 6]) {
    let mut best = (of(&from, f64::INFINITY), from);
    let mut steps = FINE;
    for _ in 0..=HALVINGS {
        for _ in 0..TRIES {
            let before = best.0;
            for axis in 0..6 {
                for sign in [-1.0, 1.0] {
                    let mut off = best.1;
                    off[axis] += sign * steps[axis];
                    if off[axis].abs() > REACH[axis] {
                        continue;
                    }
                    let found = of(&off, best.0);
                    if found < best.0 {
                        best = (found, off);
                    }
                }
            }
            if best.0 == before {
                break;
            }
        }
        steps = steps.map(|step| step / 2.0);
    }
    best
}

/// Where a camera was found to stand.
pub(crate) struct Aligned {
    pub(crate) pose: Pose,
    /// How far that is from the drawing: turns in degrees, then shifts in mm, each about and
    /// along the camera's own axes.
    pub(crate) off: [f64; 6],
}

/// The pose that the picture shows; the drawn one where no other is clearly better.
/// `facelets` are points all over them, `borders` places on their rims.
pub(crate) fn align(
    view: &View,
    frame: &Frame,
    facelets: &[Points],
    borders: &[Border],
) -> Aligned {
    let mixed = |off: &[f64; 6], most: f64| mixture((view, frame), facelets, off, most);
    let of = |off: &[f64; 6], most: f64| {
        let preferred = preference(off);
        mixed(off, most - preferred) + preferred
    };
    let drawn = of(&[0.0; 6], f64::INFINITY);
    let mut far = (drawn, [0.0; 6]);
    for i in -COARSE_STEPS..=COARSE_STEPS {
        for j in -COARSE_STEPS..=COARSE_STEPS {
            let at = |k: i32, axis: usize| f64::from(k) / f64::from(COARSE_STEPS) * REACH[axis];
            let off = [at(i, 0), at(j, 1), 0.0, 0.0, 0.0, 0.0];
            let found = of(&off, far.0);
            if found < far.0 {
                far = (found, off);
            }
        }
    }
    let mut best = descend(&of, [0.0; 6]);
    if far.1 != [0.0; 6] {
        let other = descend(&of, far.1);
        if other.0 < best.0 {
            best = other;
        }
    }
    let near = if best.0 < CONVINCING * drawn { best.1 } else { [0.0; 6] };
    // Borders say it more exactly, unless they lead to quite another place: one where facelets
    // are mixed, however far from the drawing.
    let fine = follow(view, frame, borders, near, &REACH);
    let off = fine
        .filter(|fine| mixed(fine, f64::INFINITY) < SAME_PLACE * mixed(&near, f64::INFINITY))
        .unwrap_or(near);
    Aligned { pose: posed(&view.pose, &off), off }
}
