//! The least-squares lens and poses of all pictures together, with the covariance of what was
//! found.

use dryturn_geometry::{DVec2, DVec3, Lens, Pose, misfit_px2};
use dryturn_numerics::{LeastSquares, NormalEquations, Rules, descend};

const RULES: Rules = Rules { most_rounds: 100, settled_share: 1e-12, least_damping: 1e-12 };
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

/// The pictures, and what of the lens is sought.
struct Pictures<'a> {
    views: &'a [Vec<(DVec3, DVec2)>],
    unknowns: &'a [Unknown],
}

/// A lens and the poses of the pictures.
type Place = (Lens, Vec<Pose>);

impl LeastSquares for Pictures<'_> {
    type At = Place;

    fn sum(&self, (lens, poses): &Place) -> Option<f64> {
        let views = self.views.iter().zip(poses);
        views.map(|(pairs, pose)| misfit_px2(lens, pose, pairs)).sum()
    }

    /// The lens first, then six unknowns a picture.
    fn equations(&self, (lens, poses): &Place) -> Option<NormalEquations> {
        let own = self.unknowns.len();
        let mut equations = NormalEquations::new(own + POSE * self.views.len());
        for (view, (pairs, pose)) in self.views.iter().zip(poses).enumerate() {
            let places: Vec<usize> =
                (0..own).chain(own + POSE * view..own + POSE * (view + 1)).collect();
            for &(world, pixel) in pairs {
                let point = pose.to_camera(world);
                let place = lens.project(point)?;
                let n = DVec2::new(point.x, point.y) / point.z;
                let bent = (place - lens.centre_px) / lens.focal_px;
                let of_lens =
                    self.unknowns.iter().map(|unknown| unknown.slope(lens, n, bent).to_array());
                let mut slopes: Vec<[f64; 2]> = of_lens.collect();
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
                    let slope = (ahead - behind) * (motion.length().max(1e-12) / (2.0 * tiny));
                    slopes.push(slope.to_array());
                }
                equations.add_at(&places, &slopes, (pixel - place).to_array());
            }
        }
        Some(equations)
    }

    fn moved(&self, (lens, poses): &Place, step: &[f64]) -> Option<Place> {
        let (of_lens, of_poses) = step.split_at(self.unknowns.len());
        let mut next = *lens;
        self.unknowns.iter().zip(of_lens).for_each(|(unknown, s)| unknown.add(&mut next, *s));
        let steps = of_poses.chunks_exact(POSE);
        let moved = poses.iter().zip(steps).map(|(pose, step)| pose.stepped(step)).collect();
        (next.focal_px.x > 0.0).then_some((next, moved))
    }
}

/// The least-squares lens over `unknowns` (all others stay), and all poses. `None` where
/// the points do not decide them.
pub(super) fn fit(
    lens: Lens,
    poses: Vec<Pose>,
    views: &[Vec<(DVec3, DVec2)>],
    unknowns: &[Unknown],
) -> Option<Bundle> {
    let pictures = Pictures { views, unknowns };
    let (place, sum) = descend(&pictures, (lens, poses), &RULES)?;
    let triangle = pictures.equations(&place)?.triangle()?;
    let unit_variances: Vec<f64> =
        (0..unknowns.len()).map(|k| triangle.inverse_column(k)[k]).collect();
    let finite = sum.is_finite() && unit_variances.iter().all(|v| v.is_finite() && *v >= 0.0);
    let (lens, poses) = place;
    finite.then_some(Bundle { lens, poses, sum, unit_variances })
}
