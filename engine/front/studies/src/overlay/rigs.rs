//! How rigs of one drawing differ: the drawing's own tolerances, run.

use dryturn_cube::CubeState;
use dryturn_driving::{Detail, Machine};
use dryturn_numerics::Cholesky;
use dryturn_scene::Scene;
use dryturn_statistics::quantile;
use dryturn_units::noise::Seed;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use super::model::Model;
use super::signature::{differences, floors, scatter};

/// The rigs are always the same ones.
const SEED: u64 = 0x0b5e_55ed;
/// Fewest rigs, over the number of measures, that must come through the plan.
const FEWEST_OVER: usize = 3;

/// Turns that scatter so many times as much as those of the worst simulated rig have something
/// that no figure of the drive explains.
const SCATTERED_RATIO: f64 = 1.5;

/// What differs between rigs of one drawing and its run without errors.
pub(super) struct Spread {
    mean: Vec<f64>,
    covariance: Cholesky,
    /// How far turns are from their mean, by kind, in the mean of the rigs; and the most that a
    /// rig had of it, in the median of the kinds.
    scatter: Vec<f64>,
    most_scatter_ratio: f64,
}

/// In the median of the kinds.
fn ratio(scatter: &[f64], usual: &[f64]) -> f64 {
    let ratios = scatter.iter().zip(usual).filter(|(_, usual)| **usual > 0.0);
    let mut ratios: Vec<f64> = ratios.map(|(own, usual)| own / usual).collect();
    ratios.sort_by(f64::total_cmp);
    quantile(&ratios, 0.5).unwrap_or(1.0)
}

impl Spread {
    /// From so many rigs of a scene; `None` where too few get through.
    pub(super) fn of(model: &Model<'_>, scene: &Scene, rigs: u64) -> Option<Self> {
        let exact = model.measures(scene)?;
        let machine = Machine::of(scene);
        let one = |trial: u64| {
            let draw = Seed::new(SEED).trial(trial);
            let run = machine.run(&CubeState::SOLVED, model.plan, draw, Detail::Trace);
            let own = model.measures_of(&run)?;
            let kinds = &model.kinds;
            Some((differences(kinds, &own, &exact), scatter(kinds, &own, &exact)))
        };
        let all: Vec<_> = (0..rigs).into_par_iter().map(carried(one)).collect();
        let (found, scatters): (Vec<_>, Vec<_>) = all.into_iter().flatten().unzip();
        Self::from(&found, &scatters, &floors(&model.kinds))
    }

    fn from(found: &[Vec<f64>], scatters: &[Vec<f64>], floors: &[f64]) -> Option<Self> {
        let (size, count) = (floors.len(), found.len());
        if count < FEWEST_OVER * size.max(4) {
            return None;
        }
        let means = |rows: &[Vec<f64>]| -> Vec<f64> {
            (0..rows[0].len())
                .map(|k| rows.iter().map(|own| own[k]).sum::<f64>() / count as f64)
                .collect()
        };
        let (mean, scatter) = (means(found), means(scatters));
        let most = scatters.iter().map(|own| ratio(own, &scatter)).fold(0.0, f64::max);
        // An inverse covariance from few rigs is too large (J. Hartlap, P. Simon and P.
        // Schneider, A&A 464, 2007; from memory), and the mean has an error of its own.
        let scale = (count - 1) as f64 / (count - size - 2) as f64 * (1.0 + 1.0 / count as f64);
        let mut covariance = vec![0.0; size * size];
        for i in 0..size {
            for j in 0..size {
                let products = found.iter().map(|own| (own[i] - mean[i]) * (own[j] - mean[j]));
                let sum: f64 = products.sum();
                covariance[i * size + j] = scale * sum / (count - 1) as f64;
            }
            covariance[i * size + i] += floors[i];
        }
        let covariance = Cholesky::of(covariance, size)?;
        Some(Self { mean, covariance, scatter, most_scatter_ratio: most })
    }

    /// Whether turns scatter more than those of any rig, by a half.
    pub(super) fn scattered(&self, own: &[f64]) -> bool {
        ratio(own, &self.scatter) > SCATTERED_RATIO * self.most_scatter_ratio
    }

    /// Differences as multiples of what rigs differ, independent of each other.
    pub(super) fn whitened(&self, differences: &[f64]) -> Vec<f64> {
        self.covariance.whitened(differences)
    }

    /// Likewise, of what a rig is off, without what all rigs are.
    pub(super) fn left(&self, differences: &[f64]) -> Vec<f64> {
        let own: Vec<f64> = differences.iter().zip(&self.mean).map(|(a, b)| a - b).collect();
        self.whitened(&own)
    }
}
