//! How far samples stray from their colours' references, learnt by leaving sightings out in turn
//! (cross-validation), and how many of those each way takes for another colour.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::file::Method;
use serde::{Deserialize, Serialize};

use super::left_out::{LeftOut, left_out, placed};
use super::{Calibration, CalibrationError, KnownColour};
use crate::classes::{Normal, Scatter, drawn_together, six_of};
use crate::looks::{References, Scales, Sighting};
use crate::models::model_of;
use crate::pixels::Patches;
use crate::rendering::log_light;

/// How many residuals what is expected beforehand counts for.
const EXPECTED_WEIGHT: f64 = 20.0;
/// Shares of the pooled covariance that are tried.
const SHRINKAGES: [f64; 8] = [0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0];
/// Residuals of a colour from which on they have a covariance to speak of.
const FEWEST: f64 = 8.0;
/// Least scales: a code, a thousandth, a just noticeable difference's tenth; and those of a
/// calibration that nothing could be left out of.
const LEAST: [f64; 3] = [1.0, 1e-3, 0.1];
const UNCHECKED: [f64; 3] = [8.0, 0.02, 3.0];

/// What cross-validation found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Checked {
    /// How many sightings were left out in turn.
    pub sightings: usize,
    /// In how many parts.
    pub folds: usize,
    /// How many of them each way took for another colour: summed RGB difference,
    /// chromaticity, CIELAB, Gaussian.
    pub wrong: [usize; 4],
    /// Sightings by true colour (row) and what the Gaussian classes took them for (column).
    pub confusion: [[usize; 6]; 6],
    /// The same for the nearest colour by summed RGB difference; zeros in calibrations that
    /// were stored without it.
    #[serde(default)]
    pub nearest_confusion: [[usize; 6]; 6],
    /// Mean log-likelihood of a sighting that was left out, under the Gaussian classes, with
    /// the shrinkage that was chosen.
    pub log_likelihood: f64,
}

impl Checked {
    fn of(left_out: &[LeftOut], folds: usize, log_likelihood: f64) -> Self {
        let confusion = |way: usize| {
            let mut table = [[0; 6]; 6];
            left_out.iter().for_each(|s| table[s.colour.index()][s.taken(way).index()] += 1);
            table
        };
        let wrong = |way: usize| left_out.iter().filter(|s| s.taken(way) != s.colour).count();
        Self {
            sightings: left_out.len(),
            folds,
            wrong: core::array::from_fn(wrong),
            confusion: confusion(3),
            nearest_confusion: confusion(0),
            log_likelihood,
        }
    }
}

/// How far a sighting that was left out lies from what the others lead one to expect.
struct Residual {
    fold: usize,
    colour: usize,
    off: DVec3,
}

/// Covariances of the colours: each its own, drawn towards the pooled one.
fn shrunk(residuals: &[Residual], leave: Option<usize>, share: f64) -> [DMat3; 6] {
    let mut scatters = [Scatter::none(); 6];
    for residual in residuals.iter().filter(|residual| Some(residual.fold) != leave) {
        scatters[residual.colour].add(residual.off);
    }
    let before = Scatter { sum: Scales::expected() * EXPECTED_WEIGHT, count: EXPECTED_WEIGHT };
    let drawn = drawn_together(&scatters, before, share, FEWEST);
    core::array::from_fn(|colour| drawn[colour])
}

/// The share at which residuals of parts that were left out are most probable.
fn best_shrinkage(residuals: &[Residual], folds: usize) -> (f64, f64) {
    let score = |share: f64| {
        let of_fold = |fold: usize| {
            let classes = shrunk(residuals, Some(fold), share).map(|c| Normal::of(DVec3::ZERO, &c));
            let left_out = residuals.iter().filter(|residual| residual.fold == fold);
            let density = |residual: &Residual| {
                let class = classes[residual.colour];
                class.map_or(f64::NEG_INFINITY, |class| class.log_density(residual.off))
            };
            left_out.map(density).sum::<f64>()
        };
        (0..folds).map(of_fold).sum::<f64>() / residuals.len().max(1) as f64
    };
    // Later shares win among equals: all colours alike is the simpler model.
    let scored = SHRINKAGES.map(|share| (share, score(share)));
    let finite = scored.into_iter().filter(|(_, score)| score.is_finite());
    finite.fold((1.0, f64::NEG_INFINITY), |best, next| if next.1 >= best.1 { next } else { best })
}

/// Learns from sightings, leaving each fold out in turn, and reads what was left out.
pub(super) fn cross_validated(
    patches: &Patches,
    sightings: &[Sighting],
    folds: usize,
) -> (Scales, Checked, Vec<LeftOut>) {
    let mut found = Scales::unknown();
    let kept = |fold: usize| sightings.iter().filter(move |s| s.fold != fold);
    // A fold without which a colour would be missing says nothing.
    let without: Vec<Option<References>> = (0..folds)
        .map(|fold| References::of(patches, &kept(fold).collect::<Vec<_>>()).ok())
        .collect();
    let ways = [Method::Nearest, Method::Chromaticity, Method::Lab];
    let mut sums = [(0.0, 0.0); 3];
    let mut residuals = Vec::new();
    for (fold, references) in without.iter().enumerate() {
        let Some(references) = references else { continue };
        let models = ways.map(|way| model_of(way, patches, references, &found));
        let logs = references.logs(patches);
        for (sighting, facelet, sample) in placed(patches, sightings, fold) {
            for (way, model) in models.iter().enumerate() {
                let off = model.distance(facelet, &sample, sighting.colour).unwrap_or(0.0);
                sums[way].0 += if way == 0 { off } else { off * off };
                sums[way].1 += 1.0;
            }
            if let Some(logs) = &logs[sample.camera][facelet.index()] {
                let light = patches.rendering(sample.camera).light(sighting.seen);
                let off = log_light(light) - logs[sighting.colour];
                residuals.push(Residual { fold, colour: sighting.colour, off });
            }
        }
    }
    // Of summed channels, of squares in two dimensions, and in three.
    let scale = |way: usize| {
        let (sum, count) = sums[way];
        let mean = sum / count;
        let each = [mean / 3.0, (mean / 2.0).sqrt(), (mean / 3.0).sqrt()][way];
        if count > 0.0 { each.max(LEAST[way]) } else { UNCHECKED[way] }
    };
    found.summed_codes = scale(0);
    found.chromaticity_share = scale(1);
    found.colour_difference = scale(2);
    let (share, log_likelihood) = best_shrinkage(&residuals, folds);
    found.shrinkage_share = share;
    found.log_covariances = shrunk(&residuals, None, share).each_ref().map(six_of);

    let left_out = left_out(patches, sightings, (&without[..], &found));
    let checked = Checked::of(&left_out, folds, log_likelihood);
    (found, checked, left_out)
}

impl Calibration {
    /// Cross-validates as a calibration does, without making one: each scan's colours are
    /// read by what the other scans have taught. Scans of all six mountings of the solved
    /// cube are left out a face and a colour at a time, so that nearest colours, chromaticity
    /// and CIELAB never know the place of what they read, whereas Gaussian classes know it by
    /// its other colours.
    ///
    /// # Errors
    /// A colour that no scan shows.
    pub fn leave_out(
        patches: &Patches,
        scans: &[Vec<KnownColour>],
    ) -> Result<Vec<LeftOut>, CalibrationError> {
        let of_scan = |(fold, scan): (usize, &Vec<KnownColour>)| -> Vec<Sighting> {
            let sighting = |known: &KnownColour| Sighting {
                fold,
                facelet: known.facelet,
                camera: None,
                colour: known.colour.index(),
                seen: known.seen,
            };
            scan.iter().map(sighting).collect()
        };
        let sightings: Vec<Sighting> = scans.iter().enumerate().flat_map(of_scan).collect();
        let all: Vec<&Sighting> = sightings.iter().collect();
        References::of(patches, &all).map_err(|face| CalibrationError::ColourUnseen { face })?;
        Ok(cross_validated(patches, &sightings, scans.len()).2)
    }
}
