//! Gaussian classes: how probable each makes a sample, and covariances that are drawn
//! towards a common one.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::maths;

/// A normal distribution in three dimensions.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Normal {
    pub(crate) mean: DVec3,
    /// Inverse of the covariance.
    pub(crate) precision: DMat3,
    /// Logarithm of the covariance's determinant.
    pub(crate) log_determinant: f64,
}

impl Normal {
    /// `None` where the covariance has no inverse.
    pub(crate) fn of(mean: DVec3, covariance: &DMat3) -> Option<Self> {
        let determinant = covariance.determinant();
        let log_determinant = maths::ln(determinant);
        let fine = determinant > 0.0 && log_determinant.is_finite();
        fine.then(|| Self { mean, precision: covariance.inverse(), log_determinant })
    }

    /// Squared distance of a sample, in standard deviations.
    pub(crate) fn distance2(&self, sample: DVec3) -> f64 {
        let off = sample - self.mean;
        off.dot(self.precision * off)
    }

    /// Logarithm of the density at a sample, less what all normal distributions share.
    pub(crate) fn log_density(&self, sample: DVec3) -> f64 {
        -0.5 * (self.distance2(sample) + self.log_determinant)
    }
}

/// Sum of squared deviations, and how many there are.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Scatter {
    pub(crate) sum: DMat3,
    pub(crate) count: f64,
}

impl Scatter {
    pub(crate) fn none() -> Self {
        Self { sum: DMat3::ZERO, count: 0.0 }
    }

    pub(crate) fn add(&mut self, off: DVec3) {
        self.sum += outer(off, 1.0);
        self.count += 1.0;
    }

    pub(crate) fn covariance(&self) -> DMat3 {
        self.sum * (1.0 / self.count.max(1.0))
    }
}

/// Covariances of classes: each class's own, with `share` of it replaced by the one of all
/// together, to which `expected` adds what is expected beforehand. A class of fewer than
/// `fewest` deviations takes the common one.
pub(crate) fn drawn_together(
    classes: &[Scatter],
    expected: Scatter,
    share: f64,
    fewest: f64,
) -> Vec<DMat3> {
    let all = classes.iter().fold(expected, |all, own| Scatter {
        sum: all.sum + own.sum,
        count: all.count + own.count,
    });
    let common = all.covariance();
    let own = |class: &Scatter| {
        if class.count < fewest {
            return common;
        }
        common * share + class.covariance() * (1.0 - share)
    };
    classes.iter().map(own).collect()
}

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

/// Classes with their means, spreads and frequencies.
pub struct ClassModel {
    /// Each with the logarithm of its prior.
    classes: Vec<(Normal, f64)>,
}

/// Covariance of three channels that stray together by one standard deviation and each by
/// itself by another.
pub(crate) fn together_and_each(together: f64, each: f64) -> DMat3 {
    DMat3::from_cols_array(&[together * together; 9])
        + DMat3::from_diagonal(DVec3::splat(each * each))
}

/// The six numbers of a symmetric matrix: rr, rg, rb, gg, gb, bb.
pub(crate) fn six_of(m: &DMat3) -> [f64; 6] {
    [m.x_axis.x, m.x_axis.y, m.x_axis.z, m.y_axis.y, m.y_axis.z, m.z_axis.z]
}

/// The symmetric matrix of its six numbers.
pub(crate) fn of_six([rr, rg, rb, gg, gb, bb]: [f64; 6]) -> DMat3 {
    DMat3::from_cols_array(&[rr, rg, rb, rg, gg, gb, rb, gb, bb])
}

/// The product of a vector with its transpose, so many times.
pub(crate) fn outer(v: DVec3, times: f64) -> DMat3 {
    DMat3::from_cols(v * (v.x * times), v * (v.y * times), v * (v.z * times))
}

impl ClassModel {
    /// Fits means and covariances (divided by the number of samples) to samples with
    /// their classes, 0 to `classes` − 1; priors are the classes' frequencies. `None`
    /// where a class has no sample, or a covariance cannot be inverted.
    #[must_use]
    pub fn fit(samples: &[(DVec3, usize)], classes: usize, spread: Spread) -> Option<Self> {
        let n = samples.len() as f64;
        let members = |class: usize| samples.iter().filter(move |s| s.1 == class).map(|s| s.0);
        let mean = |class: usize| {
            let count = members(class).count() as f64;
            (count > 0.0).then(|| members(class).sum::<DVec3>() / count)
        };
        let means: Vec<DVec3> = (0..classes).map(mean).collect::<Option<_>>()?;
        let scatter = |class: usize| {
            let mut scatter = Scatter::none();
            members(class).for_each(|x| scatter.add(x - means[class]));
            scatter
        };
        let scatters: Vec<Scatter> = (0..classes).map(scatter).collect();
        let share = if spread == Spread::Shared { 1.0 } else { 0.0 };
        let mut covariances = drawn_together(&scatters, Scatter::none(), share, 1.0);
        if spread == Spread::Independent {
            let middle = samples.iter().map(|s| s.0).sum::<DVec3>() / n;
            let squares = samples.iter().map(|s| (s.0 - middle) * (s.0 - middle));
            let floor = SMOOTHING * (squares.sum::<DVec3>() / n).max_element();
            for own in &mut covariances {
                let variances = DVec3::new(own.x_axis.x, own.y_axis.y, own.z_axis.z);
                *own = DMat3::from_diagonal(variances + floor);
            }
        }
        let class = |class: usize| {
            let normal = Normal::of(means[class], &covariances[class])?;
            Some((normal, maths::ln(scatters[class].count / n)))
        };
        Some(Self { classes: (0..classes).map(class).collect::<Option<_>>()? })
    }

    /// Logarithm of each class's probability, given a sample.
    #[must_use]
    pub fn log_posteriors(&self, sample: DVec3) -> Vec<f64> {
        let joint: Vec<f64> =
            self.classes.iter().map(|(own, prior)| prior + own.log_density(sample)).collect();
        let most = joint.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = joint.iter().map(|&l| maths::exp(l - most)).sum();
        joint.iter().map(|l| l - most - maths::ln(total)).collect()
    }
}
