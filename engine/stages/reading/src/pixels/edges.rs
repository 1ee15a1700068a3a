//! Where a camera stands, to a fraction of a pixel: by the facelets' borders in its picture.
//!
//! From a pose that is right within a few pixels, each border is sought along its own
//! direction where the picture changes most, and the pose follows by least squares
//! (C. Harris and C. Stennett, *RAPID – a video rate object tracker*, 1990). Borders that
//! nothing shows, or that lie far from the others' agreement, have no say.

use dryturn_cube::Facelet;
use dryturn_geometry::{DVec2, DVec3, Pose};
use dryturn_handoff::Frame;
use dryturn_numerics::{NormalEquations, between_pixels, central_difference, upper_median};
use dryturn_scene::{Scene, Surface, View};
use dryturn_units::radians;
use dryturn_units::stop::checkpoint;

/// How far along its direction a border is sought, pixels, and in which steps.
const REACH_PX: f64 = 3.0;
const STEP_PX: f64 = 0.5;
/// Smallest change of the summed channels across a border, codes a pixel.
const LEAST_CHANGE: f64 = 12.0;
/// Borders further from agreement than this, pixels, count less and less.
const DOUBTFUL_PX: f64 = 0.7;
/// Fewest borders that decide a pose, as a share of all and by number; and how far the
/// middle one of them may be from it in the end, pixels.
const FEWEST_SHARE: f64 = 0.5;
const FEWEST: usize = 40;
const AGREED_PX: f64 = 0.8;
const ROUNDS: usize = 6;
/// How far mounts usually are off: turns in degrees, shifts in mm. A prior, so that what
/// borders leave open stays near the drawing.
const USUAL: [f64; 6] = [1.0, 1.0, 1.0, 2.0, 2.0, 2.0];
/// Standard deviation of a border's place, pixels.
const BORDER_PX: f64 = 0.5;
/// Steps of the numeric slopes: degrees, mm.
const SLOPES: [f64; 6] = [0.01, 0.01, 0.01, 0.05, 0.05, 0.05];

/// How many pixels of a facelet lie inside of a rim that is looked at, and most such places.
const INSIDE_PX: i64 = 3;
const MOST_BORDERS: usize = 600;
/// Places nearer to a corner than this share of the side are left out: corners are round.
const STRAIGHT_SHARE: f64 = 0.75;
/// How far from a border's place its other points lie, mm.
const BESIDE_MM: f64 = 0.3;

/// A place on a facelet's border, another a little further along it, and one a little
/// outside, mm in the world.
#[derive(Clone, Copy)]
pub(crate) struct Border {
    at: DVec3,
    along: DVec3,
    outside: DVec3,
}

/// Places where a facelet ends at the piece's body in a picture as drawn, whose labels are
/// given row by row.
pub(crate) fn borders(scene: &Scene, camera: usize, labels: &[u8]) -> Vec<Border> {
    let view = &scene.views()[camera];
    let width = scene.file().cameras[camera].width_px as usize;
    let height = labels.len() / width;
    let body = Surface::Body.code();
    let code = |x: i64, y: i64| {
        let inside = x >= 0 && y >= 0 && x < width as i64 && y < height as i64;
        if inside { labels[y as usize * width + x as usize] } else { u8::MAX }
    };
    let facelets: Vec<Facelet> = Facelet::all().collect();
    let border = |facelet: Facelet, at: DVec2| {
        let corners = scene.rig().facelet_corners_mm(facelet);
        let centre = corners.iter().sum::<DVec3>() / 4.0;
        let normal = DVec3::from_array(facelet.face().normal().map(f64::from));
        let direction = view.direction(at)?;
        let far = (centre - view.pose.position).dot(normal) / direction.dot(normal);
        let at = view.pose.position + direction * far;
        // The side that it lies on is along an axis; the other coordinate says how far along.
        let off = (at - centre) * (DVec3::ONE - normal.abs());
        let along = off.abs().max_element();
        let outward = DVec3::from_array(core::array::from_fn(|k| {
            if off[k].abs() == along { off[k].signum() } else { 0.0 }
        }));
        let across = (off - outward * along).length();
        let straight = across < STRAIGHT_SHARE * along;
        let tangent = normal.cross(outward);
        straight.then_some(Border {
            at,
            along: at + tangent * BESIDE_MM,
            outside: at + outward * BESIDE_MM,
        })
    };
    let mut found = Vec::new();
    for y in 0..height as i64 {
        for x in 0..width as i64 {
            let own = code(x, y);
            let Some(&facelet) = facelets.get(usize::from(own)) else { continue };
            for (dx, dy) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
                let plain = code(x + dx, y + dy) == body
                    && (1..=INSIDE_PX).all(|k| code(x - k * dx, y - k * dy) == own);
                let at = DVec2::new(x as f64 + 0.5 * dx as f64, y as f64 + 0.5 * dy as f64);
                found.extend(plain.then(|| border(facelet, at)).flatten());
            }
        }
    }
    let step = found.len().div_ceil(MOST_BORDERS).max(1);
    found.into_iter().step_by(step).collect()
}

/// The pose that is off the drawn one: turns in degrees, then shifts in mm, about and along
/// the camera's own axes.
pub(crate) fn posed(pose: &Pose, off: &[f64; 6]) -> Pose {
    let turn = DVec3::new(radians(off[0]), radians(off[1]), radians(off[2]));
    let shift = pose.direction_to_world(DVec3::new(off[3], off[4], off[5]));
    pose.disturbed(shift, turn)
}

/// The picture between its pixels, summed differences to another place in codes.
fn colour(frame: &Frame, at: DVec2) -> Option<DVec3> {
    between_pixels(at.to_array(), [frame.width, frame.height], |[column, row]| {
        DVec3::from_array(frame.pixel(row * frame.width + column).0.map(f64::from))
    })
}

/// How far outwards of `at` the picture changes most; `None` where it hardly changes.
fn change_along(frame: &Frame, at: DVec2, direction: DVec2) -> Option<f64> {
    let steps = (2.0 * REACH_PX / STEP_PX) as usize + 1;
    let place = |k: usize| STEP_PX * k as f64 - REACH_PX;
    let strength: Vec<f64> = (0..steps)
        .map(|k| {
            let middle = at + direction * place(k);
            let side = |sign: f64| colour(frame, middle + direction * (sign * 0.75));
            let (inner, outer) = (side(-1.0)?, side(1.0)?);
            Some((outer - inner).abs().element_sum() / 1.5)
        })
        .collect::<Option<_>>()?;
    let best = (1..steps - 1).max_by(|&a, &b| strength[a].total_cmp(&strength[b]))?;
    if strength[best] < LEAST_CHANGE || strength[best] < strength[0].max(strength[steps - 1]) {
        return None;
    }
    // The top of the parabola through the three.
    let [before, top, after] = [strength[best - 1], strength[best], strength[best + 1]];
    let bend = before - 2.0 * top + after;
    let beside = if bend < -1e-9 { 0.5 * (before - after) / bend } else { 0.0 };
    Some(place(best) + STEP_PX * beside.clamp(-1.0, 1.0))
}

/// Follows the borders from a pose near the real one. `None` where too few show, or they do
/// not agree.
pub(crate) fn follow(
    view: &View,
    frame: &Frame,
    borders: &[Border],
    start: [f64; 6],
    most: &[f64; 6],
) -> Option<[f64; 6]> {
    let mut off = start;
    let fewest = FEWEST.max((FEWEST_SHARE * borders.len() as f64) as usize);
    let mut errors: Vec<f64> = Vec::new();
    for _ in 0..ROUNDS {
        checkpoint();
        let project = |off: &[f64; 6], point: DVec3| {
            view.lens.project(posed(&view.pose, off).to_camera(point))
        };
        let mut equations = NormalEquations::new(6);
        for k in 0..6 {
            equations.pull(k, BORDER_PX * BORDER_PX / (USUAL[k] * USUAL[k]), off[k]);
        }
        errors.clear();
        for border in borders {
            let sought = || {
                let at = project(&off, border.at)?;
                // Across the border as the picture shows it, outwards.
                let across = (project(&off, border.along)? - at).perp().try_normalize()?;
                let outwards = (project(&off, border.outside)? - at).dot(across);
                let direction = across * outwards.signum();
                Some((at, direction, change_along(frame, at, direction)?))
            };
            let Some((_, direction, error)) = sought() else { continue };
            let slope: Option<Vec<[f64; 1]>> = (0..6)
                .map(|k| {
                    let place = |off: &[f64; 6]| project(off, border.at);
                    let moved = central_difference(&off, k, SLOPES[k], place)?;
                    Some([moved.dot(direction) / (2.0 * SLOPES[k])])
                })
                .collect();
            let Some(slope) = slope else { continue };
            errors.push(error.abs());
            // Cauchy's weights.
            let weight = 1.0 / (1.0 + (error / DOUBTFUL_PX) * (error / DOUBTFUL_PX));
            equations.add_weighted(weight, &slope, [error]);
        }
        if errors.len() < fewest {
            return None;
        }
        let step = equations.solved()?;
        (0..6).for_each(|k| off[k] = (off[k] + step[k]).clamp(-most[k], most[k]));
        if step.iter().zip(SLOPES).all(|(step, small)| step.abs() < small) {
            break;
        }
    }
    upper_median(errors).is_some_and(|error| error < AGREED_PX).then_some(off)
}
