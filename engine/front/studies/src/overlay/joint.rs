//! Fitting several figures at once: the step of a weighted least-squares fit with a prior,
//! the errors and correlations of its solution, and what chi-square may come to.
//!
//! With residuals `r` at the figures `x` (coordinates: 0 as drawn, 1 as far off as is usual),
//! their derivatives `J` and covariance `C`, the solution makes `(r + J(y − x))ᵀ C⁻¹ (r + J(y −
//! x)) + ρ yᵀy` least (C. F. Gauss; with the prior: A. E. Hoerl and R. W. Kennard, Technometrics
//! 12, 1970; from memory); its covariance is `(JᵀC⁻¹J + ρ)⁻¹`. Residuals and derivatives come
//! whitened, so that `C` is one.

use dryturn_numerics::{Cholesky, dot};
use dryturn_units::maths;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Of the standard normal distribution, 99 % lie below.
pub const Z_99: f64 = 2.326_347_874;
/// Of the standard normal distribution, 99 % lie below.
pub const Z_999: f64 = 3.090_232_306;

/// Coordinates of a solution with their covariance.
#[derive(Clone, Debug)]
pub struct Solution {
    /// One for each figure.
    pub at: Vec<f64>,
    /// Of the same, row-major.
    pub covariance: Vec<f64>,
}

impl Solution {
    /// Standard error of a coordinate.
    #[must_use]
    pub fn error(&self, k: usize) -> f64 {
        self.covariance[k * self.at.len() + k].sqrt()
    }

    /// Correlation of two, −1 to 1.
    #[must_use]
    pub fn correlation(&self, i: usize, j: usize) -> f64 {
        self.covariance[i * self.at.len() + j] / (self.error(i) * self.error(j))
    }
}

/// The fit of all figures near its solution, in coordinates that are 0 as drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "ProblemRecord")]
pub struct Problem {
    /// Where it was looked at.
    pub at: Vec<f64>,
    /// What is left there, each by itself normal with variance 1.
    pub left: Vec<f64>,
    /// How what is left changes with each coordinate.
    pub columns: Vec<Vec<f64>>,
    /// Weight of the prior.
    pub prior: f64,
}

/// The solution as seen from coordinates with whitened residuals there and whitened
/// derivatives, a column for each coordinate; `prior` is the prior's weight, 1 where each
/// coordinate is taken for 0 ± 1 beforehand. `None` where the columns leave it open.
#[must_use]
pub fn solved(at: &[f64], left: &[f64], columns: &[Vec<f64>], prior: f64) -> Option<Solution> {
    let size = at.len();
    let mut normal = vec![0.0; size * size];
    for i in 0..size {
        for j in 0..size {
            normal[i * size + j] = dot(&columns[i], &columns[j]);
        }
        normal[i * size + i] += prior;
    }
    let cholesky = Cholesky::of(normal, size)?;
    let right: Vec<f64> = (0..size).map(|i| -dot(&columns[i], left) - prior * at[i]).collect();
    let step = cholesky.solve(&right);
    let at = at.iter().zip(step).map(|(a, b)| a + b).collect();
    Some(Solution { at, covariance: cholesky.inverse() })
}

/// The value below which chi-square with so many degrees of freedom stays with the
/// probability that a normal variable stays below `z` (E. B. Wilson and M. M. Hilferty, PNAS
/// 17, 1931; from memory).
#[must_use]
pub fn chi_square(freedom: usize, z: f64) -> f64 {
    let part = 2.0 / (9.0 * freedom as f64);
    freedom as f64 * maths::whole_pow(1.0 - part + z * part.sqrt(), 3)
}
