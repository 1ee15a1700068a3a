//! What each colour looks like at each place, in the sensor's own light, and how far
//! samples stray from that.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::file::Camera;
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::maths;

use crate::calibration::{References, Scales};
use crate::censored::{Censored, Known, censored};
use crate::classes::together_and_each;
use crate::patches::Patches;
use crate::samples::Pixels;

/// Added to light before its logarithm is taken, as a share of full scale: what is darker
/// is lost in noise and in the steps of 8-bit codes.
pub(crate) const LIGHT_FLOOR: f64 = 0.004;
/// How much of what a single reference has of its own is believed; the rest is taken from
/// its face and its colour (one reference is one facelet, with its own spread).
const OWN_SHARE: f64 = 0.35;
/// Standard deviations of what a light does to a facelet besides its gain: all channels
/// together, and each by itself, where it has changed and where it has not. Edges of shadows, a
/// mount that is a little off.
const CHANGED: [f64; 2] = [0.07, 0.04];
const STEADY: [f64; 2] = [0.025, 0.012];
/// The same where nothing was learnt of the rig.
const UNSEEN: [f64; 2] = [0.12, 0.05];
/// White in a picture whose exposure is about right, as a share of full.
const WHITE: f64 = 0.5;
/// Noise of a median of light on the sensor, as a share of full scale.
const NOISE: f64 = 0.0025;
/// From the distance of quartiles to a standard deviation (of a normal distribution), and
/// how much of a patch's own spread its median may be off.
const QUARTILES_PER_SIGMA: f64 = 1.349;
const SPREAD_SHARE: f64 = 0.3;
/// Codes at which a channel of the picture is as high as it goes, and as low.
const HIGHEST: u8 = 253;
const LOWEST: u8 = 1;
/// From this share of full on the sensor's channel is full.
const FULL_SHARE: f64 = 0.96;
/// 1/√(2π).
const FRAC_1_ROOT_TWO_PI: f64 = 0.398_942_280_401_432_7;

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

    /// Light on the sensor where the picture is white.
    pub(crate) fn white(&self) -> DVec3 {
        (self.unmix * DVec3::splat(WHITE)).max(DVec3::splat(1e-3))
    }

    /// From light on the sensor to linear colours of the picture, without its limits.
    pub(crate) fn matrix(&self) -> DMat3 {
        self.mix
    }

    /// The logarithm of a picture's linear colours where the light on the sensor strays so: its
    /// mean, how it changes with the light's logarithm, and its noise.
    fn pictured(&self, light: DVec3, spread: &DMat3) -> (DVec3, DMat3, DVec3) {
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
        (mean, slope, rows * NOISE / above)
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

/// In what colours are compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Compared {
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
    compared: Compared,
    /// Logarithm of what is compared.
    shown: DVec3,
    /// How far that may be off for what the pixels are uneven, by channel.
    doubt: DVec3,
    /// Channels that are as high or as low as they go are bounds.
    known: [Known; 3],
}

impl Seen {
    pub(crate) fn of(
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
        let shown = |colour: EncodedRgb8| match compared {
            Compared::Light => log_light(rendering.light(colour)),
            Compared::Picture => log_light(DVec3::from(colour.decode().0)),
        };
        let full = |k: usize| light[k] >= FULL_SHARE * rendering.full;
        let in_light = |k| if full(k) { Known::AtLeast } else { Known::Exactly };
        let [low, high] = pixels.quartiles.map(shown);
        Self {
            facelet,
            camera,
            log: log_light(light),
            compared,
            shown: shown(pixels.median),
            doubt: (high - low).abs() * (SPREAD_SHARE / QUARTILES_PER_SIGMA),
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

/// The light of all colours at all places.
pub(crate) struct Appearance {
    /// By camera and facelet index, and colour; `None` where nothing is read.
    light: Vec<Vec<Option<[DVec3; 6]>>>,
    renderings: Vec<Rendering>,
    /// By facelet index: the camera that sees most of it.
    best: Vec<Option<usize>>,
    /// Covariance of the logarithms of each colour, in steady light and in a changed one.
    covariances: [[DMat3; 6]; 2],
}

/// How far samples stray from what is expected of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stray {
    /// As in the calibration.
    Steady,
    /// As where the light is another.
    Changed,
}

impl Appearance {
    /// From what was seen in the light of the calibration.
    pub(crate) fn of(patches: &Patches, references: &References, scales: &Scales) -> Self {
        let smoothed = |own: Vec<Option<[DVec3; 6]>>| {
            let mut light = own.clone();
            Face::ALL.into_iter().for_each(|face| smooth(&own, &mut light, face));
            light.into_iter().map(|logs| Some(logs?.map(light_of))).collect()
        };
        let with = |[together, each]: [f64; 2]| {
            scales.covariances().map(|own| own + together_and_each(together, each))
        };
        let cameras = 0..patches.camera_count();
        Self {
            light: references.logs(patches).into_iter().map(smoothed).collect(),
            renderings: cameras.map(|camera| *patches.rendering(camera)).collect(),
            best: Facelet::all().map(|facelet| patches.camera_of(facelet)).collect(),
            covariances: [with(STEADY), with(CHANGED)],
        }
    }

    /// Where nobody has seen the colours: `ratios` are logarithms of what each throws back as a
    /// multiple of what white does.
    pub(crate) fn unseen(patches: &Patches, ratios: [DVec3; 6]) -> Self {
        let cameras = 0..patches.camera_count();
        let of = |camera: usize, facelet: Facelet| {
            let white = patches.rendering(camera).white();
            let light = |log: DVec3| white * DVec3::from_array(log.to_array().map(maths::exp));
            patches.sees(camera, facelet).then(|| ratios.map(light))
        };
        let of_camera = |camera: usize| Facelet::all().map(|f| of(camera, f)).collect();
        let [together, each] = UNSEEN;
        Self {
            light: cameras.clone().map(of_camera).collect(),
            renderings: cameras.map(|camera| *patches.rendering(camera)).collect(),
            best: Facelet::all().map(|facelet| patches.camera_of(facelet)).collect(),
            covariances: [[together_and_each(together, each); 6]; 2],
        }
    }

    /// Logarithms of all colours' light at a facelet, in the camera that sees most of it.
    pub(crate) fn logs(&self, facelet: Facelet) -> Option<[DVec3; 6]> {
        self.logs_in(self.best[facelet.index()]?, facelet)
    }

    /// The same in a camera that sees it.
    pub(crate) fn logs_in(&self, camera: usize, facelet: Facelet) -> Option<[DVec3; 6]> {
        Some(self.light[camera][facelet.index()]?.map(log_light))
    }

    /// What is to be expected of a colour where something was seen and the light's logarithm
    /// has changed by `gain`.
    pub(crate) fn expected(
        &self,
        seen: &Seen,
        (colour, stray): (usize, Stray),
        gain: DVec3,
    ) -> Option<Expected> {
        let light = self.light[seen.camera][seen.facelet.index()].as_ref()?[colour];
        let light = light * DVec3::from_array(gain.to_array().map(maths::exp));
        Some(self.showing(seen, &self.spread(colour, stray), light))
    }

    /// What is to be expected of a light whose logarithm strays so.
    pub(crate) fn showing(&self, seen: &Seen, spread: &DMat3, light: DVec3) -> Expected {
        let rendering = &self.renderings[seen.camera];
        let (mean, slope, noise) = match seen.compared {
            Compared::Light => {
                let above = light + LIGHT_FLOOR;
                (log_light(light), DMat3::from_diagonal(light / above), DVec3::splat(NOISE) / above)
            }
            Compared::Picture => rendering.pictured(light, spread),
        };
        let covariance = slope * *spread * slope.transpose()
            + DMat3::from_diagonal(noise * noise + seen.doubt * seen.doubt);
        Expected { mean, covariance, slope, light }
    }

    /// Covariance of a colour's logarithms.
    pub(crate) fn spread(&self, colour: usize, stray: Stray) -> DMat3 {
        self.covariances[stray as usize][colour]
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
