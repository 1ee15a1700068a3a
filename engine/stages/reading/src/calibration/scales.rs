//! How far samples stray from their colours' references, learnt by leaving sightings out.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::file::Method;
use serde::{Deserialize, Serialize};

use super::left_out::{LeftOut, left_out, placed};
use super::references::{References, Sighting};
use crate::classes::{Normal, Scatter, drawn_together, of_six, six_of, together_and_each};
use crate::models::model_of;
use crate::patches::Patches;
use crate::rendering::log_light;

/// Standard deviations that are expected of a facelet's logarithm before any is seen: all
/// channels together, and each by itself.
const EXPECTED_TOGETHER: f64 = 0.05;
const EXPECTED_EACH: f64 = 0.03;
/// How many residuals that expectation counts for.
const EXPECTED_WEIGHT: f64 = 20.0;
/// Shares of the pooled covariance that are tried.
const SHRINKAGES: [f64; 8] = [0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0];
/// Residuals of a colour from which on they have a covariance to speak of.
const FEWEST: f64 = 8.0;
/// Least scales: a code, a thousandth, a just noticeable difference's tenth; and those of a
/// calibration that nothing could be left out of.
const LEAST: [f64; 3] = [1.0, 1e-3, 0.1];
const UNCHECKED: [f64; 3] = [8.0, 0.02, 3.0];

/// Spread of samples about their references, for each way to tell colours apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Scales {
    /// Mean absolute difference of a channel from the own reference, codes.
    pub(crate) summed_codes: f64,
    /// Standard deviation of a chromaticity in each of its two directions, shares of the sum.
    pub(crate) chromaticity_share: f64,
    /// Standard deviation in each of the three directions of CIELAB, as CIEDE2000.
    pub(crate) colour_difference: f64,
    /// Share of the covariance that all colours have in common in each colour's.
    pub(crate) shrinkage_share: f64,
    /// Covariances of the logarithms of light, by colour: rr, rg, rb, gg, gb, bb.
    pub(crate) log_covariances: [[f64; 6]; 6],
}

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

fn expected() -> DMat3 {
    together_and_each(EXPECTED_TOGETHER, EXPECTED_EACH)
}

/// Covariances of the colours: each its own, drawn towards the pooled one.
fn shrunk(residuals: &[Residual], leave: Option<usize>, share: f64) -> [DMat3; 6] {
    let mut scatters = [Scatter::none(); 6];
    for residual in residuals.iter().filter(|residual| Some(residual.fold) != leave) {
        scatters[residual.colour].add(residual.off);
    }
    let before = Scatter { sum: expected() * EXPECTED_WEIGHT, count: EXPECTED_WEIGHT };
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

impl Scales {
    /// Before anything was learnt.
    fn unknown() -> Self {
        Self {
            summed_codes: 1.0,
            chromaticity_share: 1.0,
            colour_difference: 1.0,
            shrinkage_share: 1.0,
            log_covariances: [six_of(&expected()); 6],
        }
    }

    /// Covariances of the logarithms of light, by colour.
    pub(crate) fn covariances(&self) -> [DMat3; 6] {
        self.log_covariances.map(of_six)
    }

    /// Whether every scale is above zero and every covariance one.
    pub(super) fn sound(&self) -> bool {
        let scales = [self.summed_codes, self.chromaticity_share, self.colour_difference];
        let definite = |m: DMat3| {
            let second = m.x_axis.x * m.y_axis.y - m.x_axis.y * m.y_axis.x;
            m.x_axis.x > 0.0 && second > 0.0 && m.determinant() > 0.0
        };
        scales.iter().all(|s| s.is_finite() && *s > 0.0)
            && self.log_covariances.iter().flatten().all(|v| v.abs() < 100.0)
            && self.covariances().into_iter().all(definite)
    }

    /// Learns from sightings, leaving each fold out in turn, and reads what was left out.
    pub(super) fn learn(
        patches: &Patches,
        sightings: &[Sighting],
        folds: usize,
    ) -> (Self, Checked, Vec<LeftOut>) {
        let mut found = Self::unknown();
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
}
