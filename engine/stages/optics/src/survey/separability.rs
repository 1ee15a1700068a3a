//! How far apart two colours are at a place, in standard deviations.

use dryturn_cube::Face;
use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::Scene;
use dryturn_scene::file::{Camera, Mosaic};

use super::Gathered;
use crate::sensor::{CHANNELS, ReadOut};

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

/// Share of the pixels that measure a channel.
fn measured(mosaic: Mosaic, channel: usize) -> f64 {
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
    let full_e = camera.full_well_e / camera.gain_ratio.max(1.0);
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

/// The pair that is hardest to tell apart.
pub(super) fn closest(scene: &Scene, camera: &Camera, found: &Gathered) -> Separability {
    let colours: Vec<(DVec3, DMat3)> =
        (0..6).map(|colour| moments(scene, camera, found, colour)).collect();
    let pairs = (0..6).flat_map(|a| (a + 1..6).map(move |b| (a, b)));
    let distance = |(a, b): (usize, usize)| {
        let off = colours[a].0 - colours[b].0;
        let mean = (colours[a].1 + colours[b].1) * 0.5;
        // Without any noise or spread every difference is beyond doubt.
        let sigmas = if mean.determinant() > 0.0 {
            off.dot(mean.inverse() * off).max(0.0).sqrt()
        } else {
            f64::INFINITY
        };
        Separability { pair: [Face::from_index(a), Face::from_index(b)], sigmas }
    };
    pairs
        .map(distance)
        .min_by(|a, b| a.sigmas.total_cmp(&b.sigmas))
        .expect("six colours make pairs")
}
