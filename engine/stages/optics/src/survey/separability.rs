//! How far apart two colours are at a place, in standard deviations.

use dryturn_cube::Face;
use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::Scene;
use dryturn_scene::file::{Camera, Mosaic};

use super::gathered::Gathered;
use crate::camera::sensor::{CHANNELS, ReadOut, saturating_e};

/// Two colours and the distance between their means at a place: the Mahalanobis
/// distance with the mean of their covariances, from the noise of the facelet's pixels
/// together and from the spread between facelets of one colour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Separability {
    /// The colours, as their faces.
    pub pair: [Face; 2],
    /// Distance in standard deviations.
    pub sigmas: f64,
}

/// All pairs of two colours, as their faces, each once.
pub const PAIRS: [[Face; 2]; 15] = {
    let mut pairs = [[Face::U; 2]; 15];
    let (mut n, mut a) = (0, 0);
    while a < 6 {
        let mut b = a + 1;
        while b < 6 {
            pairs[n] = [Face::ALL[a], Face::ALL[b]];
            (n, b) = (n + 1, b + 1);
        }
        a += 1;
    }
    pairs
};

/// Share of the pixels that measure a channel.
pub(super) fn measured(mosaic: Mosaic, channel: usize) -> f64 {
    match (mosaic, channel) {
        (Mosaic::None, _) => 1.0,
        (_, 1) => 0.5,
        _ => 0.25,
    }
}

/// Mean electrons of a colour at a place, and their covariance.
fn moments(scene: &Scene, camera: &Camera, found: &Gathered, colour: usize) -> (DVec3, DMat3) {
    let tolerances = &scene.file().tolerances;
    let read_out = ReadOut::of(camera);
    let full_e = saturating_e(camera);
    // What is above full scale is all alike.
    let mean = found.mean_e(colour).map(|e| e.min((full_e - found.dark_e).max(0.0)));
    let square = |v: f64| v * v;
    let own =
        square(tolerances.facelet_tint_sigma_share) + square(tolerances.batch_tint_sigma_share);
    let together = square(tolerances.facelet_brightness_sigma_share);
    let mut covariance = DMat3::ZERO;
    for i in 0..CHANNELS {
        for j in 0..CHANNELS {
            covariance.col_mut(i)[j] = together * mean[i] * mean[j];
        }
        let pixels = (found.visible as f64 * measured(camera.mosaic, i)).max(1.0);
        let noise_e = read_out.noise_codes(mean[i] + found.dark_e) / read_out.codes_per_e;
        covariance.col_mut(i)[i] += own * square(mean[i]) + square(noise_e) / pixels;
    }
    (DVec3::from(mean), covariance)
}

/// Distances of all 15 pairs of colours, in the order of [`PAIRS`].
pub(super) fn all(scene: &Scene, camera: &Camera, found: &Gathered) -> [f64; 15] {
    let colours: Vec<(DVec3, DMat3)> =
        (0..6).map(|colour| moments(scene, camera, found, colour)).collect();
    PAIRS.map(|[a, b]| sigmas_between(colours[a.index()], colours[b.index()]))
}

/// Distance of two classes, each a mean and a covariance, in standard deviations of the mean
/// of their covariances (P. C. Mahalanobis, Proc. Nat. Inst. Sci. India 2, 1936).
#[must_use]
pub fn sigmas_between(a: (DVec3, DMat3), b: (DVec3, DMat3)) -> f64 {
    let (off, mean) = (a.0 - b.0, (a.1 + b.1) * 0.5);
    // Without any noise or spread every difference is beyond doubt.
    if mean.determinant() > 0.0 {
        off.dot(mean.inverse() * off).max(0.0).sqrt()
    } else {
        f64::INFINITY
    }
}

/// The pair that is hardest to tell apart.
pub(super) fn closest(sigmas: &[f64; 15]) -> Separability {
    let pairs = PAIRS.into_iter().zip(sigmas);
    let pairs = pairs.map(|(pair, &sigmas)| Separability { pair, sigmas });
    pairs.min_by(|a, b| a.sigmas.total_cmp(&b.sigmas)).expect("six colours make pairs")
}
