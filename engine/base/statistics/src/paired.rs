//! How sure means of paired figures are, and what follows from them.

use dryturn_units::noise::Noise;

use crate::{RESAMPLES, quantile};

/// Means of [`RESAMPLES`] bootstrap resamples of rows: every row, the figures of one trial,
/// is drawn as a whole, so that differences between columns are paired (B. Efron and
/// R. J. Tibshirani, *An Introduction to the Bootstrap*, 1993).
pub struct PairedBootstrap {
    means: Vec<f64>,
    resampled: Vec<Vec<f64>>,
}

impl PairedBootstrap {
    /// Of rows of equal length; `None` of no rows.
    #[must_use]
    pub fn of(rows: &[Vec<f64>], mut noise: Noise) -> Option<Self> {
        let columns = rows.first()?.len();
        let count = rows.len() as f64;
        let mean = |pick: &mut dyn FnMut(usize) -> usize| {
            let mut sums = vec![0.0; columns];
            for place in 0..rows.len() {
                let row = &rows[pick(place)];
                sums.iter_mut().zip(row).for_each(|(sum, value)| *sum += value);
            }
            sums.into_iter().map(|sum| sum / count).collect::<Vec<f64>>()
        };
        let means = mean(&mut |place| place);
        let mut any = |_| ((noise.uniform() * count) as usize).min(rows.len() - 1);
        let resampled = (0..RESAMPLES).map(|_| mean(&mut any)).collect();
        Some(Self { means, resampled })
    }

    /// A figure of the columns' means, and the middle `confidence` of it over the resamples
    /// (percentile interval).
    #[must_use]
    pub fn figure(&self, of: impl Fn(&[f64]) -> f64, confidence: f64) -> (f64, (f64, f64)) {
        let mut found: Vec<f64> = self.resampled.iter().map(|means| of(means)).collect();
        found.sort_unstable_by(f64::total_cmp);
        let tail = 0.5 * (1.0 - confidence);
        let end = |share| quantile(&found, share).unwrap_or(f64::NAN);
        (of(&self.means), (end(tail), end(1.0 - tail)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryturn_units::maths;
    use dryturn_units::noise::Seed;

    fn noise(index: u64) -> Noise {
        Seed::new(12).stream("bootstrap test", 0, index)
    }

    /// 60 pairs: x = 900 + 40 sin i + i, y = x − 80 − 15 cos 3i.
    fn rows() -> Vec<Vec<f64>> {
        (0..60)
            .map(|i| {
                let i = f64::from(i);
                let x = 900.0 + 40.0 * maths::sin(i) + i;
                vec![x, x - 80.0 - 15.0 * maths::cos(3.0 * i)]
            })
            .collect()
    }

    /// SciPy 1.17.1, `bootstrap((x, y), statistic, paired=True, n_resamples=400_000,
    /// method="percentile")`: mean of x, of x − y, and 100 (x − y) / x of the means.
    #[test]
    fn intervals_match_scipy() {
        let bootstrap = PairedBootstrap::of(&rows(), noise(0)).unwrap();
        let check = |of: fn(&[f64]) -> f64, value: f64, (low, high): (f64, f64)| {
            let (found, ends) = bootstrap.figure(of, 0.95);
            assert!((found / value - 1.0).abs() < 1e-9, "{found} for {value}");
            // Ends of 10,000 resamples are sure to about 2 % of the width.
            let near = 0.04 * (high - low);
            assert!((ends.0 - low).abs() < near && (ends.1 - high).abs() < near, "{ends:?}");
        };
        check(|m| m[0], 930.7928928698213, (922.4347, 939.1863));
        check(|m| m[0] - m[1], 80.19270580682894, (77.5728, 82.8056));
        check(|m| 100.0 * (m[0] - m[1]) / m[0], 8.615526227276911, (8.3245, 8.9086));
    }

    #[test]
    fn rows_stay_together() {
        // The columns differ by 5 in every row: so they do in every resample.
        let rows: Vec<Vec<f64>> =
            (0..9).map(|i| vec![f64::from(i * i), f64::from(i * i) + 5.0]).collect();
        let bootstrap = PairedBootstrap::of(&rows, noise(1)).unwrap();
        let (mean, (low, high)) = bootstrap.figure(|m| m[1] - m[0], 0.95);
        for value in [mean, low, high] {
            assert!((value - 5.0).abs() < 1e-9, "{value}");
        }
        let (_, (low, high)) = bootstrap.figure(|m| m[0], 0.95);
        assert!(high - low > 10.0);
        assert!(PairedBootstrap::of(&[], noise(1)).is_none());
    }
}
