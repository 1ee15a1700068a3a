//! The least-squares lens and poses of all pictures together (K. Levenberg 1944,
//! D. W. Marquardt 1963), with the covariance of what was found.

use dryturn_geometry::{DVec2, DVec3, Lens, Pose};
use dryturn_units::linear::Cholesky;

use super::start::Pairs;

/// Rounds at most.
const MOST_ROUNDS: usize = 100;
/// Unknowns of a pose.
const POSE: usize = 6;

/// A number of the lens that can be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unknown {
    /// Focal length, px; one for both directions.
    Focal,
    /// Column of the optical centre, px.
    CentreColumn,
    /// Row of the optical centre, px.
    CentreRow,
    /// Radial distortion, second order.
    K1,
    /// Radial distortion, fourth order.
    K2,
    /// Radial distortion, sixth order.
    K3,
    /// Tangential distortion, first.
    P1,
    /// Tangential distortion, second.
    P2,
}

impl Unknown {
    /// What messages call it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Focal => "focal length",
            Self::CentreColumn => "optical centre, column",
            Self::CentreRow => "optical centre, row",
            Self::K1 => "k1",
            Self::K2 => "k2",
            Self::K3 => "k3",
            Self::P1 => "p1",
            Self::P2 => "p2",
        }
    }

    /// What documents call it.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Focal => "focal_px",
            Self::CentreColumn => "centre_column_px",
            Self::CentreRow => "centre_row_px",
            Self::K1 | Self::K2 | Self::K3 | Self::P1 | Self::P2 => self.name(),
        }
    }

    /// Its value in a lens.
    #[must_use]
    pub fn of(self, lens: &Lens) -> f64 {
        match self {
            Self::Focal => lens.focal_px.x,
            Self::CentreColumn => lens.centre_px.x,
            Self::CentreRow => lens.centre_px.y,
            Self::K1 => lens.distortion.k1,
            Self::K2 => lens.distortion.k2,
            Self::K3 => lens.distortion.k3,
            Self::P1 => lens.distortion.p1,
            Self::P2 => lens.distortion.p2,
        }
    }

    fn add(self, lens: &mut Lens, step: f64) {
        match self {
            Self::Focal => lens.focal_px += DVec2::splat(step),
            Self::CentreColumn => lens.centre_px.x += step,
            Self::CentreRow => lens.centre_px.y += step,
            Self::K1 => lens.distortion.k1 += step,
            Self::K2 => lens.distortion.k2 += step,
            Self::K3 => lens.distortion.k3 += step,
            Self::P1 => lens.distortion.p1 += step,
            Self::P2 => lens.distortion.p2 += step,
        }
    }

    /// Slope of a pixel by this unknown; `n` are undistorted normalised coordinates and
    /// `bent` the distorted ones.
    fn slope(self, lens: &Lens, n: DVec2, bent: DVec2) -> DVec2 {
        let (x, y, r2) = (n.x, n.y, n.length_squared());
        let distorted = match self {
            Self::Focal => return bent,
            Self::CentreColumn => return DVec2::X,
            Self::CentreRow => return DVec2::Y,
            Self::K1 => n * r2,
            Self::K2 => n * (r2 * r2),
            Self::K3 => n * (r2 * r2 * r2),
            Self::P1 => DVec2::new(2.0 * x * y, r2 + 2.0 * y * y),
            Self::P2 => DVec2::new(r2 + 2.0 * x * x, 2.0 * x * y),
        };
        distorted * lens.focal_px
    }
}

/// A lens and the poses of the pictures.
#[derive(Clone, Debug)]
pub(super) struct Bundle {
    pub(super) lens: Lens,
    pub(super) poses: Vec<Pose>,
    /// Sum of squared distances, px².
    pub(super) sum: f64,
    /// Variance of each of the lens's unknowns for a corner error of 1 px a coordinate.
    pub(super) unit_variances: Vec<f64>,
}

/// Sum of squared distances of one picture; `None` where a point is behind the camera.
pub(super) fn misfit(lens: &Lens, pose: &Pose, pairs: &Pairs) -> Option<f64> {
    pairs.iter().try_fold(0.0, |sum, &(world, pixel)| {
        Some(sum + (lens.project(pose.to_camera(world))? - pixel).length_squared())
    })
}

/// The normal equations in place: lens first, then six unknowns a picture.
fn normal(
    (lens, poses): (&Lens, &[Pose]),
    views: &[Vec<(DVec3, DVec2)>],
    unknowns: &[Unknown],
) -> Option<(Vec<f64>, Vec<f64>)> {
    let (own, size) = (unknowns.len(), unknowns.len() + POSE * views.len());
    let mut matrix = vec![0.0; size * size];
    let mut gradient = vec![0.0; size];
    for (view, (pairs, pose)) in views.iter().zip(poses).enumerate() {
        let places: Vec<usize> =
            (0..own).chain(own + POSE * view..own + POSE * (view + 1)).collect();
        for &(world, pixel) in pairs {
            let point = pose.to_camera(world);
            let place = lens.project(point)?;
            let n = DVec2::new(point.x, point.y) / point.z;
            let bent = (place - lens.centre_px) / lens.focal_px;
            let mut slopes: Vec<DVec2> =
                unknowns.iter().map(|unknown| unknown.slope(lens, n, bent)).collect();
            // How the point moves with a small turn in camera axes and with a shift.
            let axes = [DVec3::X, DVec3::Y, DVec3::Z];
            let moves = axes
                .map(|axis| axis.cross(point))
                .into_iter()
                .chain(axes.map(|axis| -(pose.camera_from_world * axis)));
            let tiny = 1e-6 * point.length();
            for motion in moves {
                let step = motion * (tiny / motion.length().max(1e-12));
                let ahead = lens.project(point + step)?;
                let behind = lens.project(point - step)?;
                slopes.push((ahead - behind) * (motion.length().max(1e-12) / (2.0 * tiny)));
            }
            let error = place - pixel;
            for (i, &row) in places.iter().enumerate() {
                gradient[row] -= slopes[i].dot(error);
                for (j, &column) in places.iter().enumerate().take(i + 1) {
                    matrix[row * size + column] += slopes[i].dot(slopes[j]);
                }
            }
        }
    }
    Some((matrix, gradient))
}

/// The least-squares lens over `unknowns` (all others stay), and all poses. `None` where
/// the points do not decide them.
pub(super) fn fit(
    mut lens: Lens,
    mut poses: Vec<Pose>,
    views: &[Vec<(DVec3, DVec2)>],
    unknowns: &[Unknown],
) -> Option<Bundle> {
    let total = |lens: &Lens, poses: &[Pose]| {
        let views = views.iter().zip(poses);
        views.map(|(pairs, pose)| misfit(lens, pose, pairs)).sum::<Option<f64>>()
    };
    let size = unknowns.len() + POSE * views.len();
    let mut sum = total(&lens, &poses)?;
    let mut damping = 1e-3;
    for _ in 0..MOST_ROUNDS {
        let (matrix, gradient) = normal((&lens, &poses), views, unknowns)?;
        let mut better = None;
        while better.is_none() && damping < 1e12 {
            let mut damped = matrix.clone();
            (0..size).for_each(|k| damped[k * size + k] *= 1.0 + damping);
            better = Cholesky::of(damped, size).and_then(|cholesky| {
                let step = cholesky.solve(&gradient);
                let mut next = lens;
                unknowns.iter().zip(&step).for_each(|(unknown, s)| unknown.add(&mut next, *s));
                let steps = step[unknowns.len()..].chunks_exact(POSE);
                let moved: Vec<Pose> = poses.iter().zip(steps).map(|(p, s)| moved(p, s)).collect();
                let next_sum = total(&next, &moved).filter(|_| next.focal_px.x > 0.0)?;
                (next_sum <= sum).then_some((next, moved, next_sum))
            });
            damping = if better.is_some() { (damping * 0.1).max(1e-12) } else { damping * 10.0 };
        }
        let Some((next, moved, next_sum)) = better else { break };
        let done = sum - next_sum <= 1e-12 * sum;
        (lens, poses, sum) = (next, moved, next_sum);
        if done {
            break;
        }
    }
    let (matrix, _) = normal((&lens, &poses), views, unknowns)?;
    let cholesky = Cholesky::of(matrix, size)?;
    let variance = |k: usize| {
        let mut unit = vec![0.0; size];
        unit[k] = 1.0;
        cholesky.solve(&unit)[k]
    };
    let unit_variances: Vec<f64> = (0..unknowns.len()).map(variance).collect();
    let finite = sum.is_finite() && unit_variances.iter().all(|v| v.is_finite() && *v >= 0.0);
    finite.then_some(Bundle { lens, poses, sum, unit_variances })
}

fn moved(pose: &Pose, step: &[f64]) -> Pose {
    pose.disturbed(DVec3::from_slice(&step[3..]), DVec3::from_slice(step))
}
