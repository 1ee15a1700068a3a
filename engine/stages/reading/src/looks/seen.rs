//! What some pixels of a facelet show, beside what is expected of them.

use dryturn_cube::Facelet;
use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::maths;

use super::censored::{Censored, Known, censored};
use crate::classes::outer;
use crate::pixels::Pixels;
use crate::rendering::{HIGHEST, LIGHT_FLOOR, LOWEST, Rendering, log_light};

/// Share of the covariance of its bands that a patch's median may be off: of noise the eighth part.
const DOUBT_SHARE: f64 = 0.125;

/// In what colours are compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Compared {
    /// Light on the sensor, where all channels of the picture are within their limits.
    Light,
    /// The picture's own linear colours, where they are not.
    Picture,
}

/// What some pixels of a facelet show.
pub(crate) struct Seen {
    pub(crate) facelet: Facelet,
    pub(crate) camera: usize,
    /// Logarithm of the light on the sensor, as far as the picture shows it.
    pub(crate) log: DVec3,
    pub(super) compared: Compared,
    /// Logarithm of what is compared.
    shown: DVec3,
    /// Covariance of how far that may be off for what the pixels are uneven.
    pub(super) doubt: DMat3,
    /// Channels that are as high or as low as they go are bounds.
    known: [Known; 3],
}

impl Seen {
    pub(super) fn of(
        rendering: &Rendering,
        (camera, facelet): (usize, Facelet),
        pixels: &Pixels,
    ) -> Self {
        let in_picture = pixels.median.0.map(|code| match code {
            HIGHEST.. => Known::AtLeast,
            ..=LOWEST => Known::AtMost,
            _ => Known::Exactly,
        });
        let compared = match in_picture {
            [Known::Exactly, Known::Exactly, Known::Exactly] => Compared::Light,
            _ => Compared::Picture,
        };
        let light = rendering.light(pixels.median);
        let shown = |colour: DVec3| match compared {
            Compared::Light => log_light(rendering.light_of(colour)),
            Compared::Picture => log_light(colour),
        };
        let full = |k: usize| light[k] >= rendering.full_from();
        let in_light = |k| if full(k) { Known::AtLeast } else { Known::Exactly };
        let bands = pixels.bands.map(shown);
        let mean = bands.iter().sum::<DVec3>() / bands.len() as f64;
        let squares = bands.iter().fold(DMat3::ZERO, |sum, own| sum + outer(*own - mean, 1.0));
        Self {
            facelet,
            camera,
            log: log_light(light),
            compared,
            shown: shown(DVec3::from_array(pixels.median.decode().0)),
            doubt: squares * (DOUBT_SHARE / (bands.len() - 1) as f64),
            known: match compared {
                Compared::Light => core::array::from_fn(in_light),
                Compared::Picture => in_picture,
            },
        }
    }

    /// Whether every channel is as high as it goes.
    pub(crate) fn is_full(&self) -> bool {
        self.known.iter().all(|known| *known == Known::AtLeast)
    }

    /// Whether every channel is as low as it goes, or all but lost in noise.
    pub(crate) fn is_dark(&self) -> bool {
        let lost = self.log.max_element() < maths::ln(2.0 * LIGHT_FLOOR);
        lost || self.known.iter().all(|known| *known == Known::AtMost)
    }

    /// How many channels are neither as high nor as low as they go.
    pub(crate) fn open(&self) -> usize {
        self.known.iter().filter(|known| **known == Known::Exactly).count()
    }

    /// How it lies with what is expected, whose spread is `wider` than it is.
    pub(crate) fn censored(&self, expected: &Expected, wider: f64) -> Option<Censored> {
        let covariance = expected.covariance * (wider * wider);
        censored(expected.mean, &covariance, self.shown, self.known)
    }

    /// Logarithm of how probable what is seen is, where so much is expected.
    pub(crate) fn log_density(&self, expected: &Expected) -> f64 {
        self.censored(expected, 1.0)
            .map_or(0.0, |found| found.log_bounds - 0.5 * (found.distance2 + found.log_determinant))
    }
}

/// What is to be expected of one colour at one place under a gain.
pub(crate) struct Expected {
    /// Of the logarithm of what is compared.
    pub(crate) mean: DVec3,
    pub(crate) covariance: DMat3,
    /// How that changes with the logarithm of the light on the sensor.
    pub(crate) slope: DMat3,
    /// The light itself.
    pub(crate) light: DVec3,
}
