//! Gaussian models of colour classes: how probable each class makes a sample.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::maths;

/// What is assumed of the classes' spread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// All classes spread alike (linear discriminant analysis).
    Shared,
    /// Each class has a covariance of its own (quadratic discriminant analysis).
    Own,
    /// Each class has variances of its own, its features go each their way (naive
    /// Bayes).
    Independent,
}

/// Added to the variances of [`Spread::Independent`], as a share of the largest
/// variance of any feature over all samples.
const SMOOTHING: f64 = 1e-9;

struct Class {
    mean: DVec3,
    inverse: DMat3,
    /// Logarithm of the prior over the root of the determinant.
    log_weight: f64,
}

/// Classes with their means, spreads and frequencies.
pub struct ClassModel {
    classes: Vec<Class>,
}

fn outer(v: DVec3) -> DMat3 {
    DMat3::from_cols(v * v.x, v * v.y, v * v.z)
}

impl ClassModel {
    /// Fits means and covariances (divided by the number of samples) to samples with
    /// their classes, 0 to `classes` − 1; priors are the classes' frequencies. `None`
    /// where a class has no sample, or a covariance cannot be inverted.
    #[must_use]
    pub fn fit(samples: &[(DVec3, usize)], classes: usize, spread: Spread) -> Option<Self> {
        let n = samples.len() as f64;
        let members = |class: usize| samples.iter().filter(move |s| s.1 == class).map(|s| s.0);
        let counts: Vec<f64> = (0..classes).map(|c| members(c).count() as f64).collect();
        if counts.contains(&0.0) {
            return None;
        }
        let means: Vec<DVec3> =
            (0..classes).map(|c| members(c).sum::<DVec3>() / counts[c]).collect();
        let scatter =
            |class: usize| members(class).fold(DMat3::ZERO, |sum, x| sum + outer(x - means[class]));
        let shared = (0..classes).fold(DMat3::ZERO, |sum, c| sum + scatter(c)) * (1.0 / n);
        let middle = samples.iter().map(|s| s.0).sum::<DVec3>() / n;
        let overall = samples.iter().map(|s| (s.0 - middle) * (s.0 - middle)).sum::<DVec3>() / n;
        let floor = SMOOTHING * overall.max_element();
        let class = |class: usize| {
            let own = scatter(class) * (1.0 / counts[class]);
            let covariance = match spread {
                Spread::Shared => shared,
                Spread::Own => own,
                Spread::Independent => {
                    let variances = DVec3::new(own.x_axis.x, own.y_axis.y, own.z_axis.z);
                    DMat3::from_diagonal(variances + floor)
                }
            };
            let determinant = covariance.determinant();
            let log_weight = maths::ln(counts[class] / n) - 0.5 * maths::ln(determinant);
            let fine = determinant > 0.0 && log_weight.is_finite();
            fine.then(|| Class { mean: means[class], inverse: covariance.inverse(), log_weight })
        };
        Some(Self { classes: (0..classes).map(class).collect::<Option<_>>()? })
    }

    /// Logarithm of each class's probability, given a sample.
    #[must_use]
    pub fn log_posteriors(&self, sample: DVec3) -> Vec<f64> {
        let joint: Vec<f64> = self
            .classes
            .iter()
            .map(|class| {
                let off = sample - class.mean;
                class.log_weight - 0.5 * off.dot(class.inverse * off)
            })
            .collect();
        let most = joint.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = joint.iter().map(|&l| maths::exp(l - most)).sum();
        joint.iter().map(|l| l - most - maths::ln(total)).collect()
    }
}
