//! What a camera makes of the light on its sensor, and back.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::file::Camera;
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::maths;

/// Added to light before its logarithm is taken, as a share of full scale: what is darker
/// is lost in noise and in the steps of 8-bit codes.
pub(crate) const LIGHT_FLOOR: f64 = 0.004;
/// Codes at which a channel of the picture is as high as it goes, and as low.
pub(crate) const HIGHEST: u8 = 253;
pub(crate) const LOWEST: u8 = 1;
/// From this share of full on the sensor's channel is full.
const FULL_SHARE: f64 = 0.96;
/// White in a picture whose exposure is about right, as a share of full.
const WHITE: f64 = 0.5;
/// 1/√(2π).
const FRAC_1_ROOT_TWO_PI: f64 = 0.398_942_280_401_432_7;

/// What a camera makes of the light on its sensor, and back.
#[derive(Clone, Copy)]
pub(crate) struct Rendering {
    /// Balance, then colour matrix.
    pub(crate) mix: DMat3,
    pub(crate) unmix: DMat3,
    /// Light at which the sensor is full.
    pub(crate) full: f64,
    /// Of a first picture's light, what the picture has.
    pub(crate) share: f64,
}

impl Rendering {
    /// Of a camera's first picture, as the drawing sets it; where its matrix has no inverse, colours
    /// are taken as they are.
    pub(crate) fn of(camera: &Camera) -> Self {
        let matrix = DMat3::from_cols_array_2d(&camera.colour_matrix()).transpose();
        let (red, blue) = (camera.white_balance_red_ratio, camera.white_balance_blue_ratio);
        let mix = matrix * DMat3::from_diagonal(DVec3::new(red, 1.0, blue));
        let full = camera.gain_ratio.min(1.0);
        let (mix, unmix) = if mix.determinant().abs() < 1e-3 {
            (DMat3::IDENTITY, DMat3::IDENTITY)
        } else {
            (mix, mix.inverse())
        };
        Self { mix, unmix, full, share: 1.0 }
    }

    /// The same where the picture has a share of the light only, and the sensor is full at as much
    /// more: light is still what it is in the first picture.
    pub(crate) fn darker(&self, share: f64) -> Self {
        let (mix, unmix) = (self.mix * share, self.unmix * share.recip());
        Self { mix, unmix, full: self.full / share, share }
    }

    /// Light on the sensor, 1 at full scale of a first picture; never below zero.
    pub(crate) fn light(&self, colour: EncodedRgb8) -> DVec3 {
        self.light_of(DVec3::from_array(colour.decode().0))
    }

    /// The same of a linear colour.
    pub(crate) fn light_of(&self, colour: DVec3) -> DVec3 {
        (self.unmix * colour).max(DVec3::ZERO)
    }

    /// Light from which on a channel of the sensor is full.
    pub(crate) fn full_from(&self) -> f64 {
        FULL_SHARE * self.full
    }

    /// Light on the sensor where the picture is white.
    pub(crate) fn white(&self) -> DVec3 {
        (self.unmix * DVec3::splat(WHITE * self.share)).max(DVec3::splat(1e-3))
    }

    /// From light on the sensor to linear colours of the picture, without its limits.
    pub(crate) fn matrix(&self) -> DMat3 {
        self.mix
    }

    /// The logarithm of a picture's linear colours where the light on the sensor strays so: its
    /// mean, how it changes with the light's logarithm, and its noise.
    pub(crate) fn pictured(
        &self,
        light: DVec3,
        spread: &DMat3,
        noise: f64,
    ) -> (DVec3, DMat3, DVec3) {
        // Of what strays to where the sensor is full, only so much arrives.
        let log = DVec3::from_array(light.max(DVec3::splat(1e-9)).to_array().map(maths::ln));
        let ceiling = maths::ln(self.full);
        let (mut held, mut follows) = (light, DVec3::ONE);
        for k in 0..3 {
            let sigma = spread.col(k)[k].sqrt();
            let z = (log[k] - ceiling) / sigma;
            if z < -4.0 {
                continue;
            }
            let above = 0.5 * maths::erfc(-z * core::f64::consts::FRAC_1_SQRT_2);
            let density = maths::exp(-0.5 * z * z) * FRAC_1_ROOT_TWO_PI;
            held[k] = maths::exp(log[k] - sigma * (z * above + density));
            follows[k] = 1.0 - above;
        }
        let picture = self.mix * held;
        // Below nothing the logarithm goes on along its tangent.
        let above = picture.max(DVec3::ZERO) + LIGHT_FLOOR;
        let mean = log_light(picture.max(DVec3::ZERO)) + picture.min(DVec3::ZERO) / LIGHT_FLOOR;
        let each = DMat3::from_diagonal(DVec3::ONE / above);
        let slope = each * self.mix * DMat3::from_diagonal(held * follows);
        let rows = self.mix.transpose();
        let rows = DVec3::new(rows.x_axis.length(), rows.y_axis.length(), rows.z_axis.length());
        (mean, slope, rows * noise / above)
    }
}

/// Logarithms of light.
pub(crate) fn log_light(light: DVec3) -> DVec3 {
    DVec3::from_array((light + LIGHT_FLOOR).to_array().map(maths::ln))
}

/// Light of a logarithm; never below zero.
pub(crate) fn light_of(log: DVec3) -> DVec3 {
    (DVec3::from_array(log.to_array().map(maths::exp)) - LIGHT_FLOOR).max(DVec3::ZERO)
}
