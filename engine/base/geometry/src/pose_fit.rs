//! Where a camera stands, from points whose places in the world and in the picture
//! are known (perspective-n-point).

use dryturn_numerics::{LeastSquares, NormalEquations, Rules, central_difference, descend};
use dryturn_units::maths;
use glam::{DMat3, DVec2, DVec3};

use crate::{Lens, Pose, rotation};

const RULES: Rules = Rules { most_rounds: 200, settled_share: 1e-15, least_damping: 0.0 };
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

/// Sum of squared distances in the picture, px²; `None` where a point is behind the camera.
#[must_use]
pub fn misfit_px2(lens: &Lens, pose: &Pose, pairs: &[(DVec3, DVec2)]) -> Option<f64> {
    pairs.iter().try_fold(0.0, |sum, &(world, pixel)| {
        Some(sum + (lens.project(pose.to_camera(world))? - pixel).length_squared())
    })
}

/// Points in the world and in the picture, seen through a lens.
struct Sighted<'a> {
    lens: &'a Lens,
    pairs: &'a [(DVec3, DVec2)],
    /// Of each unknown's differences, to either side.
    steps: [f64; UNKNOWNS],
}

impl LeastSquares for Sighted<'_> {
    type At = Pose;

    fn sum(&self, pose: &Pose) -> Option<f64> {
        misfit_px2(self.lens, pose, self.pairs)
    }

    fn equations(&self, pose: &Pose) -> Option<NormalEquations> {
        let mut equations = NormalEquations::new(UNKNOWNS);
        for &(world, pixel) in self.pairs {
            let slopes = pose.pixel_slopes(self.lens, world, &self.steps)?;
            let found = self.lens.project(pose.to_camera(world))?;
            equations.add(&slopes, (pixel - found).to_array());
        }
        Some(equations)
    }

    fn moved(&self, pose: &Pose, step: &[f64]) -> Option<Pose> {
        Some(pose.stepped(step))
    }
}

/// The least-squares pose from a pose nearby. `pairs` hold points in the world and in the
/// picture, at least three; `None` where they do not decide the pose, or the start sees a point
/// behind it.
#[must_use]
pub fn fit_pose_near(lens: &Lens, pairs: &[(DVec3, DVec2)], start: &Pose) -> Option<Fitted> {
    if pairs.len() < 3 {
        return None;
    }
    let spread = pairs.iter().map(|(world, _)| world.length()).fold(0.0, f64::max).max(1e-9);
    let steps = [1e-6, 1e-6, 1e-6, 1e-6 * spread, 1e-6 * spread, 1e-6 * spread];
    let (pose, sum) = descend(&Sighted { lens, pairs, steps }, *start, &RULES)?;
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
    /// Turned and shifted by the unknowns of a fit: a rotation vector in camera axes, radians,
    /// then a shift in the world.
    ///
    /// # Panics
    /// If there are fewer than six.
    #[must_use]
    pub fn stepped(&self, step: &[f64]) -> Self {
        self.disturbed(DVec3::from_slice(&step[3..]), DVec3::from_slice(step))
    }

    /// How the place of a point in the picture changes with each number of [`Self::stepped`], px
    /// a radian and px a unit of length, by differences of such steps to either side; `None`
    /// where the point comes to lie behind the camera.
    #[must_use]
    pub fn pixel_slopes(
        &self,
        lens: &Lens,
        world: DVec3,
        steps: &[f64; 6],
    ) -> Option<[[f64; 2]; 6]> {
        let place = |step: &[f64; 6]| lens.project(self.stepped(step).to_camera(world));
        let mut slopes = [[0.0; 2]; 6];
        for (k, slope) in slopes.iter_mut().enumerate() {
            let apart = central_difference(&[0.0; 6], k, steps[k], place)?;
            *slope = (apart / (2.0 * steps[k])).to_array();
        }
        Some(slopes)
    }

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
