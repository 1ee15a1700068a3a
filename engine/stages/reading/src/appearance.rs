//! What each colour looks like at each place, in the sensor's own light, and how far
//! samples stray from that.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::file::Camera;
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::maths;

use crate::calibration::{References, Scales};
use crate::classes::{Normal, together_and_each};
use crate::patches::Patches;
use crate::samples::Sample;

/// Added to light before its logarithm is taken, as a share of full scale: what is darker
/// is lost in noise and in the steps of 8-bit codes.
pub(crate) const LIGHT_FLOOR: f64 = 0.004;
/// How much of what a single reference has of its own is believed; the rest is taken from
/// its face and its colour (one reference is one facelet, with its own spread).
const OWN_SHARE: f64 = 0.35;
/// Standard deviations of what a changed light does to a facelet besides its gain: all
/// channels together, and each by itself. Edges of shadows, a mount that is a little off.
const CHANGED_TOGETHER: f64 = 0.07;
const CHANGED_EACH: f64 = 0.04;
/// Noise of a median, as a share of full scale.
const NOISE: f64 = 0.0025;

/// Standard deviation of a channel that the sensor or the picture clips.
const CLIPPED: f64 = 0.25;
/// From the distance of quartiles to a standard deviation (of a normal distribution), and
/// how much of a patch's own spread its median may be off.
const QUARTILES_PER_SIGMA: f64 = 1.349;
const SPREAD_SHARE: f64 = 0.3;
/// Above this share of saturated pixels a sample says little of how well all else fits.
const MUCH_SATURATED: f64 = 0.2;

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

    /// From light on the sensor to linear colours of the picture, without its limits.
    pub(crate) fn matrix(&self) -> DMat3 {
        self.mix
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
    DVec3::from_array((light + LIGHT_FLOOR).to_array().map(maths::ln))
}

/// Light of a logarithm; never below zero.
pub(crate) fn light_of(log: DVec3) -> DVec3 {
    (DVec3::from_array(log.to_array().map(maths::exp)) - LIGHT_FLOOR).max(DVec3::ZERO)
}

/// A facelet's sample.
pub(crate) struct Seen {
    pub(crate) facelet: Facelet,
    pub(crate) camera: usize,
    /// Logarithm of its light.
    pub(crate) log: DVec3,
    /// How far it may be off for what its patch is uneven, by channel.
    pub(crate) doubt: DVec3,
    /// Whether much of it is saturated.
    pub(crate) saturated: bool,
}

impl Seen {
    pub(crate) fn of(rendering: &Rendering, facelet: Facelet, sample: &Sample) -> Self {
        let log = |colour| log_light(rendering.light(colour));
        let [low, high] = sample.quartiles.map(log);
        Self {
            facelet,
            camera: sample.camera,
            log: log(sample.median),
            doubt: (high - low).abs() * (SPREAD_SHARE / QUARTILES_PER_SIGMA),
            saturated: sample.saturated_share > MUCH_SATURATED,
        }
    }
}

/// What is to be expected of one colour at one place under a gain.
pub(crate) struct Expected {
    /// Of the logarithm of the light.
    pub(crate) normal: Normal,
    /// How much of a change of the logarithm of the gain arrives there, by channel.
    pub(crate) slope: DVec3,
}

/// The light of all colours at all places.
pub(crate) struct Appearance {
    /// By facelet index and colour; `None` where nothing is read.
    light: Vec<Option<([DVec3; 6], Rendering)>>,
    /// Covariance of the logarithms of each colour.
    covariances: [DMat3; 6],
}

impl Appearance {
    /// From what was seen in the light of the calibration.
    pub(crate) fn of(patches: &Patches, references: &References, scales: &Scales) -> Self {
        let own: Vec<Option<[DVec3; 6]>> = references.logs(patches);
        let mut light = own.clone();
        for face in Face::ALL {
            smooth(&own, &mut light, face);
        }
        let with_camera = |(facelet, logs): (Facelet, Option<[DVec3; 6]>)| {
            let rendering = patches.rendering(patches.camera_of(facelet)?);
            Some((logs?.map(light_of), *rendering))
        };
        let changed = together_and_each(CHANGED_TOGETHER, CHANGED_EACH);
        Self {
            light: Facelet::all().zip(light).map(with_camera).collect(),
            covariances: scales.covariances().map(|own| own + changed),
        }
    }

    /// Logarithms of all colours' light at a facelet.
    pub(crate) fn logs(&self, facelet: Facelet) -> Option<[DVec3; 6]> {
        Some(self.light[facelet.index()].as_ref()?.0.map(log_light))
    }

    /// Covariance of a colour's logarithms.
    pub(crate) fn covariance(&self, colour: usize) -> DMat3 {
        self.covariances[colour]
    }

    /// What is to be expected of a colour where a sample was taken and the light's
    /// logarithm has changed by `gain`.
    pub(crate) fn expected(&self, seen: &Seen, colour: usize, gain: DVec3) -> Option<Expected> {
        let (light, rendering) = self.light[seen.facelet.index()].as_ref()?;
        let all = light[colour] * DVec3::from_array(gain.to_array().map(maths::exp));
        let light = rendering.shown(all);
        // What the picture does not show of the light does not change with it.
        let open = DVec3::from_array(core::array::from_fn(|k| {
            if (light[k] - all[k]).abs() < 0.02 * all[k] + 0.5 * LIGHT_FLOOR { 1.0 } else { 0.1 }
        }));
        let slope = open * light / (light + LIGHT_FLOOR);
        // Nor is it known how much there is of it.
        let noise = DVec3::splat(NOISE) / (light + LIGHT_FLOOR) + (DVec3::ONE - open) * CLIPPED;
        let sloped = DMat3::from_diagonal(slope);
        let covariance = sloped * self.covariances[colour] * sloped
            + DMat3::from_diagonal(noise * noise + seen.doubt * seen.doubt);
        Some(Expected { normal: Normal::of(log_light(light), &covariance)?, slope })
    }

    /// The mean of all six colours at a facelet.
    pub(crate) fn middle(&self, facelet: Facelet) -> Option<DVec3> {
        Some(self.logs(facelet)?.iter().sum::<DVec3>() / 6.0)
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
