//! From light on a pixel to electrons, and from electrons to a picture.
//!
//! The chain follows EMVA 1288 (Release 4.0): photons, quantum efficiency, shot
//! and dark noise in electrons, saturation, quantisation; then white balance
//! and sRGB encoding. Shot noise is drawn as a normal with the Poisson's mean
//! and variance, which is close above some twenty electrons.

use core::f64::consts::PI;

use dryturn_scene::file::Camera;
use dryturn_units::colour::LinearRgb;
use dryturn_units::maths;
use dryturn_units::noise::Noise;

use crate::spectrum::{Curve, curve, wavelength_nm};

/// Number of channels: red, green, blue.
pub const CHANNELS: usize = 3;

/// Planck's constant times the speed of light, J·m (SI, exact constants).
const H_C: f64 = 6.626_070_15e-34 * 299_792_458.0;

/// Share of the light that passes the lens (assumption).
const LENS_TRANSMISSION: f64 = 0.85;

/// Highest code of the converter: 12 bit.
const HIGHEST_CODE: f64 = 4095.0;
/// Code of no light at all: room for dark noise below zero.
const BLACK_CODE: f64 = 64.0;

/// Quantum efficiency of the three channels, electrons per photon: Gaussian
/// curves behind an infrared filter that cuts at 670 nm. Invented, of the shape
/// of common colour sensors.
#[must_use]
pub fn quantum_efficiency() -> [Curve; CHANNELS] {
    let channel = |peak: f64, centre_nm: f64, width_nm: f64| {
        curve(|nm| {
            let z = (nm - centre_nm) / width_nm;
            let filter = 1.0 / (1.0 + maths::exp((nm - 670.0) / 9.0));
            filter * (peak * maths::exp(-0.5 * z * z) + 0.015)
        })
    };
    [channel(0.42, 608.0, 34.0), channel(0.50, 538.0, 38.0), channel(0.46, 462.0, 30.0)]
}

/// Electrons per joule at each wavelength of the grid, channel by channel.
pub(crate) fn electrons_per_joule() -> [Curve; CHANNELS] {
    quantum_efficiency()
        .map(|efficiency| core::array::from_fn(|i| efficiency[i] * wavelength_nm(i) * 1e-9 / H_C))
}

/// What of a scene's radiance a pixel collects: J per W/(m²·sr), from the
/// camera equation E = π L τ / (4 N²) for an object that is far compared with
/// the focal length.
pub(crate) fn collected_energy(camera: &Camera) -> f64 {
    let area_m2 = camera.pixel_pitch_um * camera.pixel_pitch_um * 1e-12;
    let per_area = PI * LENS_TRANSMISSION / (4.0 * camera.f_number_ratio * camera.f_number_ratio);
    per_area * area_m2 * camera.exposure_ms * 1e-3
}

/// Draws noise on mean electrons and develops the result: clip, convert, take
/// off the black level, balance. Clipping comes before the white balance, as on
/// a real sensor. Dark pixels may come out below zero.
pub(crate) fn develop(camera: &Camera, mean_e: [f64; CHANNELS], noise: &mut Noise) -> LinearRgb {
    let balance = [camera.white_balance_red_ratio, 1.0, camera.white_balance_blue_ratio];
    let dark_variance = camera.read_noise_e * camera.read_noise_e;
    let codes_per_e = (HIGHEST_CODE - BLACK_CODE) * camera.gain_ratio / camera.full_well_e;
    LinearRgb(core::array::from_fn(|c| {
        let sigma = (mean_e[c] + dark_variance).sqrt();
        let electrons = (mean_e[c] + sigma * noise.gaussian()).min(camera.full_well_e);
        let code = (electrons * codes_per_e + BLACK_CODE).round().clamp(0.0, HIGHEST_CODE);
        (code - BLACK_CODE) / (HIGHEST_CODE - BLACK_CODE) * balance[c]
    }))
}
