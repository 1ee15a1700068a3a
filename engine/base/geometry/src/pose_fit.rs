//! Where a camera stands, from points whose places in the world and in the picture
//! are known (perspective-n-point).

use dryturn_units::linear::Cholesky;
use dryturn_units::maths;
use glam::{DMat3, DVec2, DVec3};

use crate::{Lens, Pose, rotation};

/// Rounds of the fit at most.
const MOST_ROUNDS: usize = 200;
/// Unknowns: a small turn in camera axes, and the camera's place.
const UNKNOWNS: usize = 6;

/// A fitted pose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fitted {
    /// The pose with the smallest sum of squared distances in the picture.
    pub pose: Pose,
    /// Root mean square of those distances, px.
    pub rms_px: f64,
}

/// Sum of squared distances in the picture; `None` where a point is behind the camera.
fn misfit(lens: &Lens, pose: &Pose, pairs: &[(DVec3, DVec2)]) -> Option<f64> {
    pairs.iter().try_fold(0.0, |sum, &(world, pixel)| {
        Some(sum + (lens.project(pose.to_camera(world))? - pixel).length_squared())
    })
}

/// A pose turned by the first three unknowns and shifted by the others.
fn moved(pose: &Pose, step: &[f64]) -> Pose {
    pose.disturbed(DVec3::from_slice(&step[3..]), DVec3::from_slice(step))
}

/// The least-squares pose from a pose nearby (K. Levenberg 1944, D. W. Marquardt
/// 1963). `pairs` hold points in the world and in the picture, at least three; `None`
/// where they do not decide the pose, or the start sees a point behind it.
#[must_use]
pub fn fit_pose_near(lens: &Lens, pairs: &[(DVec3, DVec2)], start: &Pose) -> Option<Fitted> {
    if pairs.len() < 3 {
        return None;
    }
    let mut pose = *start;
    let mut sum = misfit(lens, &pose, pairs)?;
    let spread = pairs.iter().map(|(world, _)| world.length()).fold(0.0, f64::max).max(1e-9);
    let sizes = [1e-6, 1e-6, 1e-6, 1e-6 * spread, 1e-6 * spread, 1e-6 * spread];
    let mut damping = 1e-3;
    for _ in 0..MOST_ROUNDS {
        let mut normal = [0.0; UNKNOWNS * UNKNOWNS];
        let mut gradient = [0.0; UNKNOWNS];
        for &(world, pixel) in pairs {
            let place = |pose: &Pose| lens.project(pose.to_camera(world));
            let error = place(&pose)? - pixel;
            let mut slopes = [DVec2::ZERO; UNKNOWNS];
            for k in 0..UNKNOWNS {
                let mut step = [0.0; UNKNOWNS];
                step[k] = sizes[k];
                let ahead = place(&moved(&pose, &step))?;
                step[k] = -sizes[k];
                slopes[k] = (ahead - place(&moved(&pose, &step))?) / (2.0 * sizes[k]);
            }
            for i in 0..UNKNOWNS {
                gradient[i] -= slopes[i].dot(error);
                (0..UNKNOWNS).for_each(|j| normal[i * UNKNOWNS + j] += slopes[i].dot(slopes[j]));
            }
        }
        let mut better = None;
        while better.is_none() && damping < 1e12 {
            let mut damped = normal.to_vec();
            (0..UNKNOWNS).for_each(|k| damped[k * UNKNOWNS + k] *= 1.0 + damping);
            better = Cholesky::of(damped, UNKNOWNS).and_then(|cholesky| {
                let next = moved(&pose, &cholesky.solve(&gradient));
                let next_sum = misfit(lens, &next, pairs)?;
                (next_sum <= sum).then_some((next, next_sum))
            });
            damping *= if better.is_some() { 0.1 } else { 10.0 };
        }
        let Some((next, next_sum)) = better else { break };
        let done = sum - next_sum <= 1e-15 * sum;
        (pose, sum) = (next, next_sum);
        if done {
            break;
        }
    }
    // Points on a line, or all at one place, leave the pose open.
    let rms_px = (sum / pairs.len() as f64).sqrt();
    (rms_px.is_finite()).then_some(Fitted { pose, rms_px })
}

/// The least-squares pose without a start: tried from many attitudes, at the distance
/// that the spread of the points in the picture tells.
#[must_use]
pub fn fit_pose(lens: &Lens, pairs: &[(DVec3, DVec2)]) -> Option<Fitted> {
    let n = pairs.len() as f64;
    let centre = pairs.iter().map(|p| p.0).sum::<DVec3>() / n;
    let middle = pairs.iter().map(|p| p.1).sum::<DVec2>() / n;
    let size = |sum: f64| (sum / n).sqrt().max(1e-9);
    let extent = size(pairs.iter().map(|p| (p.0 - centre).length_squared()).sum());
    let extent_px = size(pairs.iter().map(|p| (p.1 - middle).length_squared()).sum());
    // Of three dimensions two are seen.
    let distance = lens.focal_px.x * extent * (2.0f64 / 3.0).sqrt() / extent_px;
    let ray = lens.normalise(middle)?;
    let towards = DVec3::new(ray.x, ray.y, 1.0).normalize() * distance;
    let starts = attitudes().map(|camera_from_world| Pose {
        camera_from_world,
        position: centre - camera_from_world.transpose() * towards,
    });
    starts
        .filter_map(|start| fit_pose_near(lens, pairs, &start))
        .min_by(|a, b| a.rms_px.total_cmp(&b.rms_px))
}

/// The 24 ways to turn a cube, and each half way to the next about an axis.
fn attitudes() -> impl Iterator<Item = DMat3> {
    let quarter = core::f64::consts::FRAC_PI_2;
    let facing = [
        DVec3::ZERO,
        DVec3::X * quarter,
        DVec3::X * -quarter,
        DVec3::Y * quarter,
        DVec3::Y * -quarter,
        DVec3::Y * (2.0 * quarter),
    ];
    (0..8).flat_map(move |eighth| {
        let spin = rotation(DVec3::Z * (f64::from(eighth) * quarter / 2.0));
        facing.into_iter().map(move |facing| spin * rotation(facing))
    })
}

impl Pose {
    /// How far another pose is from this one: shift in the world, and the angle of the
    /// turn between them, radians.
    #[must_use]
    pub fn difference(&self, other: &Self) -> (DVec3, f64) {
        let turn = other.camera_from_world * self.camera_from_world.transpose();
        let trace = turn.x_axis.x + turn.y_axis.y + turn.z_axis.z;
        (other.position - self.position, maths::acos((trace - 1.0) / 2.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Distortion;

    #[test]
    fn the_pose_that_made_a_picture_is_found_again() {
        let lens = Lens {
            focal_px: DVec2::splat(900.0),
            centre_px: DVec2::new(320.0, 240.0),
            distortion: Distortion { k1: -0.1, ..Distortion::default() },
        };
        let at = DVec3::new(120.0, 90.0, 150.0);
        let pose = Pose::look_at(at, DVec3::ZERO, DVec3::Y).unwrap();
        let corner =
            |i: i32| DVec3::new(f64::from(i & 1), f64::from(i >> 1 & 1), f64::from(i >> 2));
        let pairs: Vec<(DVec3, DVec2)> = (0..8)
            .map(|i| corner(i) * 56.0 - 28.0)
            .map(|world| (world, lens.project(pose.to_camera(world)).unwrap()))
            .collect();
        let fitted = fit_pose(&lens, &pairs).unwrap();
        let (shift, turn) = pose.difference(&fitted.pose);
        assert!(shift.length() < 1e-6 && turn < 1e-6 && fitted.rms_px < 1e-6, "{fitted:?}");
        assert_eq!(fit_pose_near(&lens, &pairs[..2], &pose), None);
    }
}
