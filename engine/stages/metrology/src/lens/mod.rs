//! A camera's lens from pictures of a flat chessboard: focal length, optical centre,
//! distortion.
//!
//! The lens has one focal length and square pixels, as the scene's camera has one angle of
//! view. A number that the pictures do not tell from zero (by Akaike's criterion) is left out
//! and the rest fitted again.

mod bundle;
mod start;
mod telling;
mod warnings;

use dryturn_geometry::{DVec2, DVec3, Distortion, Lens, Pose, misfit_px2};
use dryturn_units::{degrees, maths};
use thiserror::Error;

use crate::board::Board;
use bundle::Bundle;
pub use bundle::Unknown;
use telling::{sigma_px, telling};
use warnings::warnings;

/// Fewest and most pictures.
pub const PICTURES: (usize, usize) = (3, 100);
/// Boards within so many degrees of one another count as parallel.
const PARALLEL_DEG: f64 = 5.0;
/// A focal length with a larger standard error is none.
const FOCAL_SHARE: f64 = 0.05;

/// Which numbers of the distortion to look for beside k1 and k2.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Radial, sixth order.
    pub k3: bool,
    /// Tangential, both.
    pub tangential: bool,
}

/// Why a lens is not found.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum LensError {
    /// Too few or too many pictures.
    #[error("{given} pictures: must be {} to {}", PICTURES.0, PICTURES.1)]
    Pictures {
        /// As given.
        given: usize,
    },
    /// Boards that all face the same way.
    #[error(
        "the boards of all pictures are parallel within {largest_deg:.1}°: tilt some of them by \
         30° or so, about different axes, or the focal length stays open"
    )]
    Parallel {
        /// Largest angle between two of them.
        largest_deg: f64,
    },
    /// No lens fits.
    #[error(
        "no lens fits the corners found: are they pictures of one flat board by one camera, at \
         one focus and zoom?"
    )]
    NoFit,
    /// The pictures leave it open.
    #[error(
        "the pictures leave the focal length open: {focal_px:.0} ± {error_px:.0} px; take more, \
         with the board tilted by 30° or so, about different axes"
    )]
    Open {
        /// As found.
        focal_px: f64,
        /// Its standard error.
        error_px: f64,
    },
}

/// A number with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Which.
    pub unknown: Unknown,
    /// Its value.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
}

/// What the pictures tell of the lens.
#[derive(Clone, Debug, PartialEq)]
pub struct LensFit {
    /// The lens.
    pub lens: Lens,
    /// What was fitted.
    pub found: Vec<Found>,
    /// What was asked for and left out, with the reason.
    pub left_out: Vec<(Unknown, String)>,
    /// Angle of view across the picture's width, and its standard error.
    pub fov_deg: (f64, f64),
    /// Optical centre from the picture's middle, right and down.
    pub centre_off_px: DVec2,
    /// Root mean square distance of the corners, px, all and by picture.
    pub rms_px: f64,
    /// The same by picture.
    pub rms_by_picture_px: Vec<f64>,
    /// Where the camera stood over the board, mm, by picture.
    pub poses: Vec<Pose>,
    /// Largest angle between two boards.
    pub tilt_deg: f64,
    /// How far the corners reach from the middle, of the way to the picture's corner.
    pub reach_share: f64,
    /// Corners in all.
    pub corners: usize,
    /// What a person should know.
    pub warnings: Vec<String>,
}

/// The lens from the board's corners in each picture, as [`Board::find`] gives them, of
/// `size` pixels. `drawn_focal_px` is where to start if the pictures do not tell.
///
/// # Errors
/// Too few pictures, or pictures that leave the lens open.
pub fn fit_lens(
    board: &Board,
    pictures: &[Vec<DVec2>],
    size: [usize; 2],
    drawn_focal_px: f64,
    wanted: Wanted,
) -> Result<LensFit, LensError> {
    if !(PICTURES.0..=PICTURES.1).contains(&pictures.len()) {
        return Err(LensError::Pictures { given: pictures.len() });
    }
    let points = board.points();
    let views: Vec<Vec<(DVec3, DVec2)>> = pictures
        .iter()
        .map(|corners| points.iter().copied().zip(corners.iter().copied()).collect())
        .collect();
    let middle = DVec2::new(size[0] as f64 - 1.0, size[1] as f64 - 1.0) / 2.0;
    let first = first_guess(&views, middle, drawn_focal_px).ok_or(LensError::NoFit)?;
    // The boards' directions are clear long before the lens is.
    let tilt_deg = largest_tilt_deg(&first.poses);
    if tilt_deg < PARALLEL_DEG {
        return Err(LensError::Parallel { largest_deg: tilt_deg });
    }
    let (bundle, unknowns, left_out) = telling(&first, &views, size, wanted)?;
    let corners = views.iter().map(Vec::len).sum::<usize>();
    let sigma = sigma_px(&bundle, corners, unknowns.len());
    let found: Vec<Found> = unknowns
        .iter()
        .zip(&bundle.unit_variances)
        .map(|(&unknown, variance)| Found {
            unknown,
            value: unknown.of(&bundle.lens),
            error: sigma * variance.sqrt(),
        })
        .collect();
    let (focal_px, error_px) = (found[0].value, found[0].error);
    if error_px > FOCAL_SHARE * focal_px || !error_px.is_finite() {
        return Err(LensError::Open { focal_px, error_px });
    }
    let half = size[0] as f64 / 2.0;
    let fov_deg = degrees(2.0 * maths::atan(half / focal_px));
    let fov_error = degrees(2.0 * half / (focal_px * focal_px + half * half)) * error_px;
    let by_picture = |(pairs, pose): (&Vec<(DVec3, DVec2)>, &Pose)| {
        (misfit_px2(&bundle.lens, pose, pairs).unwrap_or(f64::INFINITY) / pairs.len() as f64).sqrt()
    };
    let reach = pictures.iter().flatten().map(|p| (*p - middle).length()).fold(0.0, f64::max);
    let mut fit = LensFit {
        lens: bundle.lens,
        found,
        left_out,
        fov_deg: (fov_deg, fov_error),
        centre_off_px: bundle.lens.centre_px - middle,
        rms_px: (bundle.sum / corners as f64).sqrt(),
        rms_by_picture_px: views.iter().zip(&bundle.poses).map(by_picture).collect(),
        tilt_deg: largest_tilt_deg(&bundle.poses),
        poses: bundle.poses,
        reach_share: reach / middle.length(),
        corners,
        warnings: Vec::new(),
    };
    fit.warnings = warnings(&fit);
    Ok(fit)
}

/// Closed form, then focal length and poses alone, from what fits best.
fn first_guess(views: &[Vec<(DVec3, DVec2)>], middle: DVec2, drawn_px: f64) -> Option<Bundle> {
    let maps: Option<Vec<_>> = views.iter().map(|pairs| start::plane_map(pairs, middle)).collect();
    let maps = maps?;
    let from = |focal_px: f64| {
        let lens = Lens {
            focal_px: DVec2::splat(focal_px),
            centre_px: middle,
            distortion: Distortion::default(),
        };
        let poses: Option<Vec<Pose>> = maps.iter().map(|map| start::pose(map, focal_px)).collect();
        let fixed = bundle::fit(lens, poses?, views, &[])?;
        // Where even the focal length is open, its poses still say why.
        bundle::fit(lens, fixed.poses.clone(), views, &[Unknown::Focal]).or(Some(fixed))
    };
    let starts = start::focal_px(&maps).into_iter().chain([drawn_px]);
    starts.filter_map(from).min_by(|a, b| a.sum.total_cmp(&b.sum))
}

/// Largest angle between the boards of two pictures, seen from the camera.
fn largest_tilt_deg(poses: &[Pose]) -> f64 {
    let normals: Vec<DVec3> = poses.iter().map(|pose| pose.camera_from_world * DVec3::Z).collect();
    let angles = normals
        .iter()
        .enumerate()
        .flat_map(|(i, a)| normals[..i].iter().map(|b| degrees(maths::acos(a.dot(*b)))));
    angles.fold(0.0, f64::max)
}

#[cfg(test)]
mod tests;
