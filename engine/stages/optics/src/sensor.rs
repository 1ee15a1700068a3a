//! From light on a pixel to electrons, and from electrons to a picture.
//!
//! The chain follows EMVA 1288 (Release 4.0): photons, quantum efficiency, shot
//! and dark noise in electrons, saturation, quantisation; then white balance
//! and sRGB encoding. Shot and dark noise are drawn together from one normal,
//! bent to the sum's first three moments (E. A. Cornish and R. A. Fisher, 1938).

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

/// How a pixel's electrons become a code (EMVA 1288's linear model).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadOut {
    /// Codes per electron: EMVA's system gain K.
    pub codes_per_e: f64,
    /// Code of no light at all.
    pub black_code: f64,
    /// Highest code; saturation.
    pub highest_code: f64,
    /// Standard deviation of the dark signal.
    pub read_noise_e: f64,
    /// Electrons that a pixel holds at most.
    pub full_well_e: f64,
}

impl ReadOut {
    fn of(camera: &Camera) -> Self {
        Self {
            codes_per_e: (HIGHEST_CODE - BLACK_CODE) * camera.gain_ratio / camera.full_well_e,
            black_code: BLACK_CODE,
            highest_code: HIGHEST_CODE,
            read_noise_e: camera.read_noise_e,
            full_well_e: camera.full_well_e,
        }
    }

    /// One draw of the code of a pixel that collects `mean_e` electrons on average.
    #[must_use]
    pub fn draw(&self, mean_e: f64, noise: &mut Noise) -> f64 {
        let variance = mean_e + self.read_noise_e * self.read_noise_e;
        let z = noise.gaussian();
        // Photons are Poisson, hence skewed: the third moment of the sum is mean_e.
        let skew = if variance > 0.0 { mean_e / (6.0 * variance) } else { 0.0 };
        let electrons = mean_e + variance.sqrt() * z + skew * (z * z - 1.0);
        let electrons = electrons.min(self.full_well_e);
        (electrons * self.codes_per_e + self.black_code).round().clamp(0.0, self.highest_code)
    }
}

/// Draws noise on mean electrons and develops the result: clip, convert, take
/// off the black level, balance. Clipping comes before the white balance, as on
/// a real sensor. Dark pixels may come out below zero.
pub(crate) fn develop(camera: &Camera, mean_e: [f64; CHANNELS], noise: &mut Noise) -> LinearRgb {
    let balance = [camera.white_balance_red_ratio, 1.0, camera.white_balance_blue_ratio];
    let read_out = ReadOut::of(camera);
    LinearRgb(core::array::from_fn(|c| {
        let code = read_out.draw(mean_e[c], noise);
        (code - BLACK_CODE) / (HIGHEST_CODE - BLACK_CODE) * balance[c]
    }))
}
