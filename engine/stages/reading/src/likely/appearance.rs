//! What each colour looks like at each place, in the sensor's own light, and how far
//! samples stray from that.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::file::Camera;
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::maths;

use super::drift::Seen;
use crate::calibration::Calibration;
use crate::patches::Patches;

/// Added to light before its logarithm is taken, as a share of full scale: what is darker
/// is lost in noise and in the steps of 8-bit codes.
const FLOOR: f64 = 0.004;
/// How much of what a single reference has of its own is believed; the rest is taken from
/// its face and its colour (one reference is one facelet, with its own spread).
const OWN_SHARE: f64 = 0.35;
/// Standard deviations of a facelet's logarithm from its reference: all channels
/// together, and each by itself. Stickers, edges of shadows, a mount that is a little
/// off.
const TOGETHER: f64 = 0.08;
const EACH: f64 = 0.045;
/// Noise of a median, as a share of full scale.
const NOISE: f64 = 0.0025;

/// What a camera makes of the light on its sensor, and back.
#[derive(Clone, Copy)]
pub(crate) struct Rendering {
    /// Balance, then colour matrix.
    mix: DMat3,
    unmix: DMat3,
    /// Light at which the sensor is full.
    full: f64,
}

impl Rendering {
    /// Of a camera as the drawing sets it; where its matrix has no inverse, colours are
    /// taken as they are.
    pub(crate) fn of(camera: &Camera) -> Self {
        let matrix = DMat3::from_cols_array_2d(&camera.colour_matrix()).transpose();
        let (red, blue) = (camera.white_balance_red_ratio, camera.white_balance_blue_ratio);
        let mix = matrix * DMat3::from_diagonal(DVec3::new(red, 1.0, blue));
        let full = camera.gain_ratio.min(1.0);
        if mix.determinant().abs() < 1e-3 {
            return Self { mix: DMat3::IDENTITY, unmix: DMat3::IDENTITY, full };
        }
        Self { mix, unmix: mix.inverse(), full }
    }

    /// Light on the sensor, 1 at full scale; never below zero.
    pub(crate) fn light(&self, colour: EncodedRgb8) -> DVec3 {
        (self.unmix * DVec3::from(colour.decode().0)).max(DVec3::ZERO)
    }

    /// The light that a picture lets one see of this light: less where the sensor is full,
    /// or the picture's colours end.
    fn shown(&self, light: DVec3) -> DVec3 {
        let picture = self.mix * light.min(DVec3::splat(self.full));
        (self.unmix * picture.clamp(DVec3::ZERO, DVec3::ONE)).max(DVec3::ZERO)
    }
}

/// Logarithms of light.
pub(crate) fn log_light(light: DVec3) -> DVec3 {
    DVec3::from_array((light + FLOOR).to_array().map(maths::ln))
}

/// What is to be expected of one colour at one place under a gain.
pub(crate) struct Expected {
    /// Logarithm of the light.
    pub(crate) mean: DVec3,
    /// How much of a change of the logarithm of the gain arrives there, by channel.
    pub(crate) slope: DVec3,
    /// Inverse of the covariance.
    pub(crate) precision: DMat3,
    /// Logarithm of the covariance's determinant.
    pub(crate) log_determinant: f64,
}

impl Expected {
    /// Squared distance of a sample's logarithm, in standard deviations.
    pub(crate) fn distance2(&self, log: DVec3) -> f64 {
        let off = log - self.mean;
        off.dot(self.precision * off)
    }
}

/// The light of all colours at all places.
pub(crate) struct Appearance {
    /// By facelet index and colour; `None` where nothing is read.
    light: Vec<Option<([DVec3; 6], Rendering)>>,
}

impl Appearance {
    /// From a calibration.
    pub(crate) fn of(patches: &Patches, calibration: &Calibration) -> Self {
        let own: Vec<Option<[DVec3; 6]>> = Facelet::all()
            .map(|facelet| {
                let rendering = patches.rendering(patches.camera_of(facelet)?);
                let references = calibration.references(facelet);
                Some(references.map(|reference| log_light(rendering.light(reference))))
            })
            .collect();
        let mut light = own.clone();
        for face in Face::ALL {
            smooth(&own, &mut light, face);
        }
        let linear = |logs: [DVec3; 6]| {
            logs.map(|log| {
                let light = DVec3::from_array(log.to_array().map(maths::exp)) - FLOOR;
                light.max(DVec3::ZERO)
            })
        };
        let with_camera = |(facelet, logs): (Facelet, Option<[DVec3; 6]>)| {
            let rendering = patches.rendering(patches.camera_of(facelet)?);
            Some((linear(logs?), *rendering))
        };
        Self { light: Facelet::all().zip(light).map(with_camera).collect() }
    }

    /// What is to be expected of a colour where a sample was taken and the light's
    /// logarithm has changed by `gain`.
    pub(crate) fn expected(&self, seen: &Seen, colour: usize, gain: DVec3) -> Option<Expected> {
        let (light, rendering) = self.light[seen.facelet.index()].as_ref()?;
        let all = light[colour] * DVec3::from_array(gain.to_array().map(maths::exp));
        let light = rendering.shown(all);
        // What the picture does not show of the light does not change with it.
        let open = DVec3::from_array(core::array::from_fn(|k| {
            if (light[k] - all[k]).abs() < 0.02 * all[k] + 0.5 * FLOOR { 1.0 } else { 0.1 }
        }));
        let slope = open * light / (light + FLOOR);
        let noise = DVec3::splat(NOISE) / (light + FLOOR);
        let column = |k: usize| slope * (slope[k] * TOGETHER * TOGETHER);
        let together = DMat3::from_cols(column(0), column(1), column(2));
        let covariance = together
            + DMat3::from_diagonal(
                slope * slope * (EACH * EACH) + noise * noise + seen.doubt * seen.doubt,
            );
        Some(Expected {
            mean: log_light(light),
            slope,
            precision: covariance.inverse(),
            log_determinant: maths::ln(covariance.determinant()),
        })
    }

    /// The mean of all six colours at a facelet.
    pub(crate) fn middle(&self, facelet: Facelet) -> Option<DVec3> {
        let (light, _) = self.light[facelet.index()].as_ref()?;
        Some(light.iter().map(|light| log_light(*light)).sum::<DVec3>() / 6.0)
    }
}

/// Draws the references of one face towards the sum of what the place and what the colour
/// has.
fn smooth(own: &[Option<[DVec3; 6]>], into: &mut [Option<[DVec3; 6]>], face: Face) {
    let known: Vec<(usize, [DVec3; 6])> = Facelet::all()
        .filter(|facelet| facelet.face() == face)
        .filter_map(|facelet| Some((facelet.index(), own[facelet.index()]?)))
        .collect();
    if known.len() < 2 {
        return;
    }
    let count = known.len() as f64;
    let of_colour: [DVec3; 6] =
        core::array::from_fn(|c| known.iter().map(|(_, logs)| logs[c]).sum::<DVec3>() / count);
    let all = of_colour.iter().sum::<DVec3>() / 6.0;
    for (index, logs) in known {
        let place = logs.iter().sum::<DVec3>() / 6.0 - all;
        into[index] = Some(core::array::from_fn(|c| {
            let expected = of_colour[c] + place;
            expected + (logs[c] - expected) * OWN_SHARE
        }));
    }
}
