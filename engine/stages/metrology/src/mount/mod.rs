//! Where a camera really stands, from clicked points of known places
//! (perspective-n-point), and how far that is from the drawing.

mod points;
mod warnings;

use dryturn_geometry::{DMat3, DVec2, DVec3, Fitted, Pose, fit_pose, fit_pose_near};
use dryturn_numerics::NormalEquations;
use dryturn_scene::View;

use dryturn_units::{degrees, maths};
use thiserror::Error;

pub use points::{ClickedPoint, PointsError, clicked_points, cube_corners};
use warnings::warnings;

/// Fewest points.
pub const LEAST_POINTS: usize = 4;
/// Points nearer than this share of their extent to one line are on it.
const LINE_SHARE: f64 = 0.02;
/// Clicks that are off by more than this many times what was said of them, or than this share
/// of the picture's diagonal where that is more, do not fit: a corner was taken for another, or
/// the lens is not the drawn one (common practice, no source: thresholds of 8 px are usual at
/// 640 × 480, which is 1 %).
const MOST_CLICKS: f64 = 6.0;
const MOST_OF_DIAGONAL_SHARE: f64 = 0.01;
/// The drawing's neighbourhood holds the pose if it fits as well as this, or better than
/// anywhere else.
const NEAR_PX: f64 = 10.0;

/// Why a mount is not found.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum MountError {
    /// Too few points.
    #[error("{given} points: must be at least {LEAST_POINTS}, not in a line")]
    TooFew {
        /// As given.
        given: usize,
    },
    /// All points in the world on one line.
    #[error("all points are in one line: they do not decide how the camera is turned")]
    Line,
    /// Points that are clicked on one line or place.
    #[error(
        "all clicks are within {width_px:.1} px of one line of the picture: they do not decide \
         where the camera stands"
    )]
    Clicks {
        /// How far the farthest is from the line.
        width_px: f64,
    },
    /// No pose fits.
    #[error("no place of the camera fits the points: is every name at its own click?")]
    NoFit,
}

/// What the points tell of the mount.
#[derive(Clone, Debug, PartialEq)]
pub struct MountFit {
    /// Where the camera stands.
    pub pose: Pose,
    /// From the drawing, world axes, mm; and its standard error.
    pub shift_mm: DVec3,
    /// The same along the drawn camera's own axes: right, down, ahead.
    pub shift_camera_mm: DVec3,
    /// Standard errors of the shift in world axes.
    pub shift_error_mm: DVec3,
    /// Standard errors of the shift along the camera's axes.
    pub shift_camera_error_mm: DVec3,
    /// Turn from the drawing as a rotation vector about the camera's own axes (right, down,
    /// ahead), degrees.
    pub turn_deg: DVec3,
    /// Standard errors of the turn.
    pub turn_error_deg: DVec3,
    /// Root mean square distance in the picture.
    pub rms_px: f64,
    /// Distance of every point, px.
    pub residual_px: Vec<f64>,
    /// Error of a click's column and row that the standard errors assume, px.
    pub click_px: f64,
    /// Error of a click's column and row by what the fit leaves, px.
    pub left_px: f64,
    /// Where the optical axis goes, as far away as in the drawing, mm.
    pub aim_mm: DVec3,
    /// Up in the picture.
    pub up_ratio: DVec3,
    /// What a person should know.
    pub warnings: Vec<String>,
}

/// The mount from clicked points. `click_px` is how exact a click is (standard deviation
/// of its column and row); what the fit leaves counts instead where it is larger.
///
/// # Errors
/// Too few points, points in a line, or points that fit no place.
pub fn fit_mount(
    drawn: &View,
    points: &[ClickedPoint],
    click_px: f64,
) -> Result<MountFit, MountError> {
    if points.len() < LEAST_POINTS {
        return Err(MountError::TooFew { given: points.len() });
    }
    let worlds: Vec<DVec3> = points.iter().map(|p| p.world).collect();
    let (extent, width) = extents(&worlds);
    if width <= LINE_SHARE * extent {
        return Err(MountError::Line);
    }
    let flat: Vec<DVec3> = points.iter().map(|p| p.pixel.extend(0.0)).collect();
    let (extent, width_px) = extents(&flat);
    if width_px <= (LINE_SHARE * extent).max(2.0 * click_px) {
        return Err(MountError::Clicks { width_px });
    }
    let pairs: Vec<(DVec3, DVec2)> = points.iter().map(|p| (p.world, p.pixel)).collect();
    let Fitted { pose, rms_px } = fitted(drawn, &pairs).ok_or(MountError::NoFit)?;
    let sum = rms_px * rms_px * pairs.len() as f64;
    let left = (sum / (2 * pairs.len() - 6) as f64).sqrt();
    let sigma = click_px.max(left);
    let covariance = covariance(drawn, &pose, &pairs).ok_or(MountError::NoFit)?;
    let error = |block: usize, axes: &DMat3| {
        let m = DMat3::from_cols_array(&core::array::from_fn(|i| {
            covariance[(block + i / 3) * 6 + block + i % 3]
        }));
        let turned = *axes * m * axes.transpose();
        let diagonal = DVec3::new(turned.x_axis.x, turned.y_axis.y, turned.z_axis.z);
        DVec3::from_array(diagonal.to_array().map(|v| sigma * v.max(0.0).sqrt()))
    };
    let drawn_axes = drawn.pose.camera_from_world;
    let shift_mm = pose.position - drawn.pose.position;
    let turn = pose.camera_from_world * drawn_axes.transpose();
    let residual = |&(world, pixel): &(DVec3, DVec2)| {
        let place = drawn.lens.project(pose.to_camera(world));
        place.map_or(f64::INFINITY, |place| (place - pixel).length())
    };
    let ahead = pose.direction_to_world(DVec3::Z);
    let mut fit = MountFit {
        shift_mm,
        shift_camera_mm: drawn_axes * shift_mm,
        shift_error_mm: error(3, &DMat3::IDENTITY),
        shift_camera_error_mm: error(3, &drawn_axes),
        turn_deg: rotation_vector(&turn) * degrees(1.0),
        turn_error_deg: error(0, &DMat3::IDENTITY) * degrees(1.0),
        rms_px,
        residual_px: pairs.iter().map(residual).collect(),
        click_px: sigma,
        left_px: left,
        aim_mm: pose.position + ahead * drawn.pose.position.length(),
        up_ratio: -pose.direction_to_world(DVec3::Y),
        warnings: Vec::new(),
        pose,
    };
    fit.warnings = warnings(&fit, drawn, points, &pairs);
    Ok(fit)
}

impl MountFit {
    /// Why clicks said to be `click_px` off do not fit in a picture of that size, one sentence
    /// without its full stop; `None` where they do.
    #[must_use]
    pub fn objection(&self, click_px: f64, size_px: [u32; 2]) -> Option<String> {
        let [width, height] = size_px.map(f64::from);
        let of_picture = MOST_OF_DIAGONAL_SHARE * (width * width + height * height).sqrt();
        let most = (MOST_CLICKS * click_px).max(of_picture);
        (self.left_px > most).then(|| {
            format!(
                "the clicks do not fit: they are off by {:.1} px in column and row, and at most \
                 {most:.1} px are taken ({MOST_CLICKS:.0} times {click_px} px, or {:.0} % of the \
                 picture's diagonal); this is no mount to build on",
                self.left_px,
                100.0 * MOST_OF_DIAGONAL_SHARE
            )
        })
    }
}

/// From near the drawing where that fits, else from anywhere.
fn fitted(drawn: &View, pairs: &[(DVec3, DVec2)]) -> Option<Fitted> {
    let near = fit_pose_near(&drawn.lens, pairs, &drawn.pose);
    if near.is_some_and(|near| near.rms_px <= NEAR_PX) {
        return near;
    }
    let anywhere = fit_pose(&drawn.lens, pairs);
    near.into_iter().chain(anywhere).min_by(|a, b| a.rms_px.total_cmp(&b.rms_px))
}

/// Distance of the two farthest points, and of the point that is farthest from the line
/// through them.
fn extents(points: &[DVec3]) -> (f64, f64) {
    // From any point to the farthest, and from there: exact enough for a share.
    let farthest = |from: DVec3| {
        points
            .iter()
            .copied()
            .max_by(|a, b| (*a - from).length_squared().total_cmp(&(*b - from).length_squared()))
    };
    let a = points.first().and_then(|p| farthest(*p)).unwrap_or(DVec3::ZERO);
    let b = farthest(a).unwrap_or(a);
    let Some(along) = (b - a).try_normalize() else { return (0.0, 0.0) };
    let off = |p: &DVec3| (*p - a).cross(along).length();
    ((b - a).length(), points.iter().map(off).fold(0.0, f64::max))
}

/// Of a small turn in camera axes (radians) and a shift in the world (mm), for an error of
/// 1 px in each column and row.
fn covariance(drawn: &View, pose: &Pose, pairs: &[(DVec3, DVec2)]) -> Option<Vec<f64>> {
    let mut equations = NormalEquations::new(6);
    for &(world, _) in pairs {
        let tiny_mm = 1e-6 * pose.to_camera(world).length();
        let steps = [1e-6, 1e-6, 1e-6, tiny_mm, tiny_mm, tiny_mm];
        equations.add(&pose.pixel_slopes(&drawn.lens, world, &steps)?, [0.0; 2]);
    }
    Some(equations.triangle()?.inverse())
}

/// Axis times angle in radians, for turns below 180°.
fn rotation_vector(turn: &DMat3) -> DVec3 {
    let twice = DVec3::new(
        turn.y_axis.z - turn.z_axis.y,
        turn.z_axis.x - turn.x_axis.z,
        turn.x_axis.y - turn.y_axis.x,
    );
    let cosine = (turn.x_axis.x + turn.y_axis.y + turn.z_axis.z - 1.0) / 2.0;
    let sine = twice.length() / 2.0;
    twice.try_normalize().map_or(DVec3::ZERO, |axis| axis * maths::atan2(sine, cosine))
}

#[cfg(test)]
mod tests;
