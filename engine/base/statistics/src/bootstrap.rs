//! How sure a median, or any quantile, of some trials is.

use dryturn_units::maths;
use dryturn_units::noise::Noise;

use crate::quantile;

/// Resamples of a bootstrap interval: its ends are then sure to about a sixth
/// of a percent of probability.
pub const RESAMPLES: usize = 10_000;

/// The percentile bootstrap interval of the quantile at `share` (0.5: median) of `sorted`
/// values (B. Efron and R. J. Tibshirani, *An Introduction to the Bootstrap*, 1993): the
/// middle `confidence` of [`quantile`] over [`RESAMPLES`] resamples with replacement.
/// `None` for no values. A stream of its own for every call, so that no result depends on
/// another. Trials that jammed have no time: count them apart.
///
/// Takes as long for a million values as for ten; see `Resampler` for why that is
/// the same as drawing all of them.
#[must_use]
pub fn bootstrap_interval(
    sorted: &[f64],
    share: f64,
    confidence: f64,
    mut noise: Noise,
) -> Option<(f64, f64)> {
    let resampler = Resampler::of(sorted.len(), share)?;
    let mut found: Vec<f64> =
        (0..RESAMPLES).map(|_| resampler.quantile(sorted, &mut noise)).collect();
    found.sort_unstable_by(f64::total_cmp);
    let tail = 0.5 * (1.0 - confidence);
    Some((quantile(&found, tail)?, quantile(&found, 1.0 - tail)?))
}

/// Draws a quantile of a resample without the rest of it.
///
/// A resample of n sorted values has the indices `⌊n U⌋` of n uniform draws `U`. As that
/// rises with `U`, its k-th smallest value has the index `⌊n U_(k)⌋` of the k-th smallest
/// draw, and `U_(k)` has the beta distribution (k, n + 1 − k); above it lie n − k uniform
/// draws in the rest of the unit interval, the least of which is
/// `1 − (1 − U_(k)) V^(1/(n − k))`, `V` uniform (H. A. David and H. N. Nagaraja, *Order
/// Statistics*, 2003, from memory). These two are all that an interpolated quantile needs.
struct Resampler {
    count: usize,
    /// The lower of the two order statistics, from 1.
    lower: usize,
    /// How far towards the next.
    fraction: f64,
}

impl Resampler {
    fn of(count: usize, share: f64) -> Option<Self> {
        let at = share.clamp(0.0, 1.0) * count.checked_sub(1)? as f64;
        Some(Self { count, lower: at as usize + 1, fraction: at - at.floor() })
    }

    fn quantile(&self, sorted: &[f64], noise: &mut Noise) -> f64 {
        let value = |u: f64| sorted[((u * self.count as f64) as usize).min(self.count - 1)];
        let above = (self.count - self.lower) as f64;
        let (x, y) = (gamma(self.lower as f64, noise), gamma(above + 1.0, noise));
        let u = x / (x + y);
        let low = value(u);
        if self.fraction > 0.0 {
            let next = 1.0 - (1.0 - u) * maths::pow(noise.uniform(), 1.0 / above);
            low + (value(next) - low) * self.fraction
        } else {
            low
        }
    }
}

/// A draw of the gamma distribution of a shape of 1 or more and scale 1 (G. Marsaglia and
/// W. W. Tsang, ACM Trans. Math. Softw. 26, 2000).
fn gamma(shape: f64, noise: &mut Noise) -> f64 {
    let d = shape - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let x = noise.gaussian();
        let root = 1.0 + c * x;
        if root <= 0.0 {
            continue;
        }
        let v = root * root * root;
        if maths::ln(noise.uniform()) < 0.5 * x * x + d * (1.0 - v + maths::ln(v)) {
            return d * v;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryturn_units::noise::Seed;

    fn noise(index: u64) -> Noise {
        Seed::new(11).stream("bootstrap test", 0, index)
    }

    fn ranks(count: usize) -> Vec<f64> {
        (1..=count).map(|rank| rank as f64).collect()
    }

    fn draws(sorted: &[f64], share: f64, index: u64) -> Vec<f64> {
        let (resampler, mut noise) = (Resampler::of(sorted.len(), share).unwrap(), noise(index));
        (0..RESAMPLES).map(|_| resampler.quantile(sorted, &mut noise)).collect()
    }

    /// P(k-th smallest of a resample ≤ j-th value) = P(binomial(n, j/n) ≥ k): SciPy 1.17.1,
    /// `binom.sf(k - 1, n, j / n)`, at the ranks around the 5 % and 95 % points.
    #[test]
    fn order_statistics_of_resamples_have_their_exact_distribution() {
        for (count, share, probabilities) in [
            (
                101,
                0.5,
                [
                    (41, 0.027_914_563),
                    (42, 0.043_821_532),
                    (43, 0.066_211_892),
                    (58, 0.933_788_108),
                    (59, 0.956_178_468),
                    (60, 0.972_085_437),
                ],
            ),
            (
                401,
                0.95,
                [
                    (370, 0.019_966_264),
                    (372, 0.045_114_843),
                    (373, 0.065_712_511),
                    (386, 0.920_998_732),
                    (387, 0.955_105_102),
                    (388, 0.976_983_491),
                ],
            ),
        ] {
            let values = ranks(count);
            let draws = draws(&values, share, 0);
            for (rank, probability) in probabilities {
                let below = draws.iter().filter(|&&draw| draw <= f64::from(rank)).count();
                let found = below as f64 / RESAMPLES as f64;
                let error = (probability * (1.0 - probability) / RESAMPLES as f64).sqrt();
                assert!((found - probability).abs() < 4.0 * error, "{rank}: {found}");
            }
        }
        // By the same distribution, the ends of the middle 90 %.
        assert_eq!(bootstrap_interval(&ranks(101), 0.5, 0.9, noise(1)), Some((43.0, 59.0)));
        assert_eq!(bootstrap_interval(&ranks(401), 0.95, 0.9, noise(2)), Some((373.0, 387.0)));
    }

    /// Mean and standard deviation of the interpolated quantiles of a million plain resamples
    /// of (i/200)², i = 0…199: NumPy 2.4.6, `quantile(x[rng.integers(0, 200, (50000, 200))],
    /// share, axis=1)`, twenty times.
    #[test]
    fn interpolated_quantiles_match_plain_resampling() {
        let values: Vec<f64> =
            (0..200).map(|i| maths::whole_pow(f64::from(i) / 200.0, 2)).collect();
        for (share, mean, deviation) in [(0.5, 0.248_764, 0.035_000), (0.95, 0.889_525, 0.030_036)]
        {
            let draws = draws(&values, share, 3);
            let n = draws.len() as f64;
            let found = draws.iter().sum::<f64>() / n;
            let squares = draws.iter().map(|x| (x - found) * (x - found)).sum::<f64>();
            assert!((found - mean).abs() < 4.0 * deviation / n.sqrt(), "{found} for {mean}");
            let spread = (squares / n).sqrt();
            assert!((spread / deviation - 1.0).abs() < 4.0 / (2.0 * n).sqrt(), "{spread}");
        }
    }

    #[test]
    fn intervals_are_the_same_again_and_hold_at_the_edges() {
        let values = ranks(1000);
        let interval = |share, index| bootstrap_interval(&values, share, 0.95, noise(index));
        assert_eq!(interval(0.95, 4), interval(0.95, 4));
        let (low, high) = interval(0.95, 4).unwrap();
        assert!(900.0 < low && low < 951.0 && 951.0 < high && high < 1000.0, "{low} {high}");
        assert_eq!(interval(1.0, 5).unwrap().1, 1000.0);
        assert_eq!(interval(0.0, 5).unwrap().0, 1.0);
        assert_eq!(bootstrap_interval(&[], 0.5, 0.95, noise(6)), None);
        assert_eq!(bootstrap_interval(&[2.5], 0.5, 0.95, noise(6)), Some((2.5, 2.5)));
    }
}
