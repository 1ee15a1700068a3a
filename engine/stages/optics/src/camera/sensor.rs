//! From light on a pixel to electrons, and from electrons to codes.
//!
//! The chain follows EMVA 1288 (Release 4.0; from memory): photons, quantum efficiency, shot
//! and dark noise in electrons, saturation, quantisation.

use core::f64::consts::PI;

use dryturn_scene::Scene;
use dryturn_scene::file::Camera;
use dryturn_units::maths;
use dryturn_units::noise::Noise;
use dryturn_units::radians;

use crate::light::spectrum::{Beyond, Curve, curve, resampled, wavelength_nm};

/// Number of channels: red, green, blue.
pub const CHANNELS: usize = 3;

/// Planck's constant times the speed of light, J·m (SI, exact constants).
const H_C: f64 = 6.626_070_15e-34 * 299_792_458.0;

/// Share of the light that passes the lens (assumption).
const LENS_TRANSMISSION: f64 = 0.85;

/// Quantum efficiency of the three built-in channels, electrons per photon: Gaussian
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
pub(crate) fn electrons_per_joule(scene: &Scene, camera: &Camera) -> [Curve; CHANNELS] {
    let efficiency = match scene.curve(&camera.sensor_csv) {
        Some(table) => core::array::from_fn(|c| resampled(table, c, Beyond::Nothing)),
        None => quantum_efficiency(),
    };
    efficiency.map(|curve| core::array::from_fn(|i| curve[i] * wavelength_nm(i) * 1e-9 / H_C))
}

/// Distance of the lens from the sensor, mm, and the diameter of its opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aperture {
    /// From the lens to the sensor.
    pub image_mm: f64,
    /// Focal length.
    pub focal_mm: f64,
    /// Diameter of the opening.
    pub diameter_mm: f64,
}

impl Aperture {
    /// Of a camera: the angle of view gives the distance of the sensor, the sharp
    /// distance then the focal length (thin lens); a camera that is sharp everywhere
    /// counts as focused far away.
    #[must_use]
    pub fn of(camera: &Camera) -> Self {
        let half_width_mm = f64::from(camera.width_px) * camera.pixel_pitch_um * 1e-3 / 2.0;
        let image_mm = half_width_mm / maths::tan(radians(camera.horizontal_fov_deg) / 2.0);
        let focal_mm = if camera.focus_mm > 0.0 {
            image_mm * camera.focus_mm / (image_mm + camera.focus_mm)
        } else {
            image_mm
        };
        Self { image_mm, focal_mm, diameter_mm: focal_mm / camera.f_number_ratio }
    }

    /// Diameter of the disc on the sensor, mm, that a point at `distance_mm` makes
    /// when `focus_mm` is sharp: `f² |s − s₀| / (N s (s₀ − f))` (thin lens).
    #[must_use]
    pub fn blur_mm(&self, focus_mm: f64, distance_mm: f64) -> f64 {
        let off = (distance_mm - focus_mm).abs();
        self.diameter_mm * self.focal_mm * off / (distance_mm * (focus_mm - self.focal_mm))
    }
}

/// Length in pixels of the streak that a point draws which moves at `speed` across the
/// view, `distance` away, during an exposure. Any one length unit.
#[must_use]
pub fn motion_px(focal_px: f64, speed: f64, exposure_s: f64, distance: f64) -> f64 {
    focal_px * speed * exposure_s / distance
}

/// What of a scene's radiance a pixel collects: W per W/(m²·sr), from the
/// camera equation E = π L τ (f / v)² / (4 N²), where v is the lens's distance from
/// the sensor.
pub(crate) fn collected_energy(camera: &Camera) -> f64 {
    let area_m2 = camera.pixel_pitch_um * camera.pixel_pitch_um * 1e-12;
    let aperture = Aperture::of(camera);
    let opening = aperture.diameter_mm / aperture.image_mm;
    PI * LENS_TRANSMISSION / 4.0 * opening * opening * area_m2
}

/// Share of the light on the axis that arrives at an angle from it: the power of the
/// cosine (4 is the natural law), and what the barrel takes at `radius` of the
/// corner's distance from the centre.
#[must_use]
pub fn vignetting(cosine: f64, radius: f64, power: f64, corner_loss: f64) -> f64 {
    // The natural law is asked for every pixel of nearly every picture.
    let square = cosine * cosine;
    let natural = if power == 4.0 { square * square } else { maths::pow(cosine, power) };
    natural * (1.0 - corner_loss * radius * radius).max(0.0)
}

/// Electrons from which on a pixel is saturated: at a gain above 1 its code ends before its well.
pub(crate) fn saturating_e(camera: &Camera) -> f64 {
    camera.full_well_e / camera.gain_ratio.max(1.0)
}

/// How a pixel's electrons become a code (linear model of EMVA 1288, from memory).
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
    /// Whether electrons arrive at random.
    pub shot_noise: bool,
}

/// Below this mean the Poisson distribution is summed up term by term.
const SUMMED_BELOW: f64 = 30.0;

impl ReadOut {
    /// Of a camera; at gain 1 a full well is full scale.
    #[must_use]
    pub fn of(camera: &Camera) -> Self {
        let highest_code = f64::from((1u32 << camera.converter_bits) - 1);
        let black_code = (highest_code * camera.black_level_share).round();
        Self {
            codes_per_e: (highest_code - black_code) * camera.gain_ratio / camera.full_well_e,
            black_code,
            highest_code,
            read_noise_e: camera.read_noise_e,
            full_well_e: camera.full_well_e,
            shot_noise: camera.shot_noise,
        }
    }

    /// One draw of the code of a pixel that collects `mean_e` electrons on average.
    /// Always takes the same number of words from `noise`.
    #[must_use]
    pub fn draw(&self, mean_e: f64, noise: &mut Noise) -> f64 {
        let (z, read) = noise.two_gaussians();
        let uniform = noise.uniform();
        let electrons = if !self.shot_noise {
            mean_e
        } else if mean_e < SUMMED_BELOW {
            poisson(mean_e, uniform)
        } else {
            // A normal bent to the first four moments (E. A. Cornish and R. A. Fisher,
            // 1938), which for a Poisson distribution all equal the mean.
            let bent =
                z + (z * z - 1.0) / (6.0 * mean_e.sqrt()) + (z - z * z * z) / (72.0 * mean_e);
            (mean_e + mean_e.sqrt() * bent).max(0.0)
        };
        let electrons = electrons.min(self.full_well_e) + self.read_noise_e * read;
        let code = (electrons * self.codes_per_e + self.black_code).clamp(0.0, self.highest_code);
        // Rounded half up: never negative here, so cutting off is enough.
        f64::from((code + 0.5) as u32)
    }

    /// Standard deviation of the code, in codes, of a pixel that collects `mean_e`
    /// electrons (EMVA 1288, from memory: shot, dark and quantisation noise), away from both ends.
    #[must_use]
    pub fn noise_codes(&self, mean_e: f64) -> f64 {
        let shot = if self.shot_noise { mean_e } else { 0.0 };
        let electrons = shot + self.read_noise_e * self.read_noise_e;
        (self.codes_per_e * self.codes_per_e * electrons + 1.0 / 12.0).sqrt()
    }
}

/// The number at which the cumulated Poisson distribution passes `uniform`.
fn poisson(mean: f64, uniform: f64) -> f64 {
    let mut term = maths::exp(-mean);
    let (mut sum, mut n) = (term, 0.0);
    // The last uniform below 1 lies within 1e-16 of it: some 10 deviations up.
    while sum <= uniform && n < mean + 12.0 * mean.sqrt() + 30.0 {
        n += 1.0;
        term *= mean / n;
        sum += term;
    }
    n
}
