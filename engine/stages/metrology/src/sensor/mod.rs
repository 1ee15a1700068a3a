//! A camera's sensor by the photon-transfer method of EMVA 1288 (Release 4.0; from memory): light
//! arrives at random, so that the variance of a pixel's code grows in proportion to its
//! mean, and the slope is the codes that an electron makes.
//!
//! Its equations are marked `from memory` wherever they stand: the standard was not at hand.

mod meter;
mod pairs;
mod plane;
mod raw;

use thiserror::Error;

pub use meter::SensorMeter;
pub use pairs::{PairRow, PairsError, pair_list};
use plane::Plane;
pub use raw::RawPicture;

/// Two planes whose gains differ by more than this share, and by more than their errors
/// allow, are not one amplifier.
const PLANES_SHARE: f64 = 0.03;
/// A linearity error above this share means codes that do not follow the light.
const USUAL_LINEARITY_SHARE: f64 = 0.03;
/// Fewer levels in the fit are few.
const ENOUGH_LEVELS: usize = 9;

/// Two pictures of the same light.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// Light in any unit (exposure time will do); 0 is dark.
    pub light_ratio: f64,
    /// The pictures.
    pub pictures: [RawPicture; 2],
}

/// Why a sensor is not measured.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SensorError {
    /// No dark pair.
    #[error("no pair of dark pictures: one row with light_ratio 0 is needed")]
    NoDark,
    /// Too few light levels.
    #[error("{given} light levels: at least 3 are needed beside the dark pair")]
    Levels {
        /// As given.
        given: usize,
    },
    /// Pictures of different sizes.
    #[error(
        "{name}: {width} × {height} pixels: must be {wanted_width} × {wanted_height} as the first \
         picture"
    )]
    Size {
        /// The picture.
        name: String,
        /// Its width.
        width: usize,
        /// Its height.
        height: usize,
        /// The first one's.
        wanted_width: usize,
        /// The first one's.
        wanted_height: usize,
    },
    /// Too small a picture.
    #[error("{name}: {width} × {height} pixels: must be at least 32 × 32, for the statistics")]
    Small {
        /// The picture.
        name: String,
        /// Its width.
        width: usize,
        /// Its height.
        height: usize,
    },
    /// A code that the bits cannot hold.
    #[error(
        "{name}: a code is {code}: must be at most {highest}, the highest of {bits} bits; codes \
         that were shifted up must be shifted back"
    )]
    Code {
        /// The picture.
        name: String,
        /// The code.
        code: u16,
        /// Highest allowed.
        highest: u16,
        /// As given.
        bits: u32,
    },
    /// The same picture twice.
    #[error("{second}: the same codes as {first}: two pictures taken one after the other differ")]
    Same {
        /// One.
        first: String,
        /// The other.
        second: String,
    },
    /// A bit depth out of range.
    #[error("{bits} bits: must be 8 to 16")]
    Bits {
        /// As given.
        bits: u32,
    },
    /// A flat that is no lighter than the dark one.
    #[error("{name}: mean code {mean:.2}: no lighter than the dark pair's {dark:.2}")]
    NoLight {
        /// The picture.
        name: String,
        /// Its mean.
        mean: f64,
        /// The dark mean.
        dark: f64,
    },
    /// Too much light everywhere.
    #[error(
        "{name}: {percent:.0} % of its pixels are saturated; {usable} light levels are left \
         between dark and 70 % of saturation, and at least 3 are needed"
    )]
    Saturated {
        /// The darkest saturated picture.
        name: String,
        /// Its share of saturated pixels.
        percent: f64,
        /// What is left.
        usable: usize,
    },
    /// Levels, but too few below 70 % of saturation.
    #[error(
        "{usable} light levels are between dark and 70 % of saturation (mean code {most:.0}), and \
         at least 3 are needed"
    )]
    Bright {
        /// What is left.
        usable: usize,
        /// 70 % of saturation.
        most: f64,
    },
    /// Noise that does not grow with the light.
    #[error(
        "the noise does not grow with the light: these are not raw pictures of one gain, or they \
         were averaged or compressed"
    )]
    NoTransfer,
}

/// What a colour plane tells.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaneFit {
    /// Column and row of its first pixel; `None` for a sensor without mosaic.
    pub place: Option<[usize; 2]>,
    /// Codes per electron, and its standard error.
    pub codes_per_e: (f64, f64),
    /// Levels in the fit.
    pub levels: usize,
    /// Dark noise, electrons, and its standard error; `None` where the converter's steps
    /// hide it.
    pub dark_noise_e: Option<(f64, f64)>,
    /// Largest and mean deviation from a straight line, shares; `None` with fewer than 4
    /// levels between 5 % and 95 % of saturation.
    pub linearity_share: Option<[f64; 2]>,
    /// Mean and variance of every level, by rising light, dark first.
    pub transfer: Vec<[f64; 2]>,
}

/// What the pictures tell of the sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorFit {
    /// Bits of the converter.
    pub bits: u32,
    /// Codes per electron (EMVA's K), and its standard error.
    pub codes_per_e: (f64, f64),
    /// Electrons per code, and its standard error.
    pub e_per_code: (f64, f64),
    /// Dark noise, electrons, and its standard error; `None` where the converter's steps
    /// hide it.
    pub dark_noise_e: Option<(f64, f64)>,
    /// Mean code without light.
    pub black_code: f64,
    /// The same as a share of the highest code.
    pub black_level_share: f64,
    /// Electrons at which a pixel saturates; and whether the pictures reach it (else it is
    /// what the converter can still count).
    pub full_well_e: f64,
    /// Whether a level shows saturation.
    pub saturation_seen: bool,
    /// The scene's gain that goes with it.
    pub gain_ratio: f64,
    /// Largest and mean deviation from a straight line, shares, of the worst plane.
    pub linearity_share: Option<[f64; 2]>,
    /// The colour planes.
    pub planes: Vec<PlaneFit>,
    /// What a person should know.
    pub warnings: Vec<String>,
}

/// The sensor from pairs of pictures, dark ones among them; see [`SensorMeter`].
///
/// # Errors
/// Pictures that do not belong together or do not show what they must.
pub fn fit_sensor(pairs: &[Pair], bits: u32, mosaic: bool) -> Result<SensorFit, SensorError> {
    let lights: Vec<f64> = pairs.iter().map(|pair| pair.light_ratio).collect();
    let mut meter = SensorMeter::new(&lights, bits, mosaic)?;
    pairs.iter().try_for_each(|pair| meter.add(pair))?;
    meter.fit()
}

fn highest_code(bits: u32) -> u16 {
    u16::try_from((1u32 << bits) - 1).unwrap_or(u16::MAX)
}

/// All planes together: means weighted by how sure each is.
fn combined(planes: Vec<Plane>, bits: u32) -> SensorFit {
    let weighted = |figures: &[(f64, f64)]| {
        let weight = |error: f64| 1.0 / (error * error).max(1e-300);
        let sum: f64 = figures.iter().map(|f| weight(f.1)).sum();
        let mean = figures.iter().map(|f| weight(f.1) * f.0).sum::<f64>() / sum;
        (mean, 1.0 / sum.sqrt())
    };
    let gains: Vec<(f64, f64)> = planes.iter().map(|plane| plane.fit.codes_per_e).collect();
    let (gain, gain_error) = weighted(&gains);
    let darks: Option<Vec<(f64, f64)>> =
        planes.iter().map(|plane| plane.fit.dark_noise_e).collect();
    let mean = |pick: fn(&Plane) -> f64| planes.iter().map(pick).sum::<f64>() / planes.len() as f64;
    let highest = f64::from(highest_code(bits));
    let black_code = mean(|plane| plane.black_code);
    // A plane that saturates tells for all.
    let seen: Vec<f64> = planes.iter().filter_map(|plane| plane.saturation_code).collect();
    let saturation =
        if seen.is_empty() { highest } else { seen.iter().sum::<f64>() / seen.len() as f64 };
    // Within a few parts of a hundred of the highest code it is the converter that ends.
    let saturation = if saturation > 0.97 * highest { highest } else { saturation };
    let full_well_e = (saturation - black_code) / gain;
    let worst = planes.iter().filter_map(|plane| plane.fit.linearity_share);
    let linearity_share = worst.max_by(|a, b| a[0].total_cmp(&b[0]));
    let mut fit = SensorFit {
        bits,
        codes_per_e: (gain, gain_error),
        e_per_code: (1.0 / gain, gain_error / (gain * gain)),
        dark_noise_e: darks.map(|figures| weighted(&figures)),
        black_code,
        black_level_share: black_code / highest,
        full_well_e,
        saturation_seen: !seen.is_empty(),
        gain_ratio: gain * full_well_e / (highest - black_code),
        linearity_share,
        warnings: Vec::new(),
        planes: planes.iter().map(|plane| plane.fit.clone()).collect(),
    };
    fit.warnings = warnings(&fit, &planes);
    fit
}

fn warnings(fit: &SensorFit, planes: &[Plane]) -> Vec<String> {
    let mut said = Vec::new();
    let (gain, _) = fit.codes_per_e;
    for (k, plane) in fit.planes.iter().enumerate() {
        let (own, error) = plane.codes_per_e;
        if (own - gain).abs() > PLANES_SHARE * gain && (own - gain).abs() > 4.0 * error {
            said.push(format!(
                "colour plane {} has a gain {:.0} % from the mean: was a white balance put into \
                 the codes?",
                k + 1,
                100.0 * (own / gain - 1.0)
            ));
        }
    }
    if let Some([most, _]) = fit.linearity_share
        && most > USUAL_LINEARITY_SHARE
    {
        said.push(format!(
            "the codes are up to {:.1} % off a straight line: are they linear, and is light_ratio \
             in proportion to the light?",
            100.0 * most
        ));
    }
    if planes.iter().any(|plane| plane.dark_cut) {
        said.push(
            "the dark pictures have codes of 0: the black level cuts off noise, and the dark \
             noise comes out too small"
                .to_owned(),
        );
    }
    if fit.dark_noise_e.is_none() {
        said.push(
            "the converter's steps hide the dark noise: read_noise_e is left as it was".to_owned(),
        );
    }
    let fewest = fit.planes.iter().map(|plane| plane.levels).min().unwrap_or(0);
    if fewest < ENOUGH_LEVELS {
        said.push(format!("{fewest} light levels in the straight line: more make the gain surer"));
    }
    said
}

#[cfg(test)]
mod tests;
