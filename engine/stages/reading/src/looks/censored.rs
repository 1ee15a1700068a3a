//! A normal distribution of which some coordinates are seen, and of others only that they are
//! at least so much.
//!
//! Coordinates are taken one after the other, each given those before: what is seen
//! conditions the rest exactly, a bound multiplies the probability by the normal tail and
//! leaves the moments of what lies above it (a Tobit model; N. R. Mendell and R. C. Elston,
//! *Multifactorial traits*, 1974). With one bound that is exact, with two or three near it.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::maths;

use crate::classes::outer;

/// ln √(2π).
const LN_ROOT_TWO_PI: f64 = 0.918_938_533_204_672_8;
/// Below this the tail is taken from its asymptote.
const FAR: f64 = -25.0;

/// What bounds and values say together.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Censored {
    /// Squared distance of what is seen, in standard deviations.
    pub(crate) distance2: f64,
    /// Logarithm of the determinant of its covariance.
    pub(crate) log_determinant: f64,
    /// Logarithm of the probability of the bounds, given what is seen.
    pub(crate) log_bounds: f64,
    /// How many coordinates are seen.
    pub(crate) seen: usize,
    /// All coordinates as they are to be expected: seen ones as they are, others within their
    /// bounds.
    pub(crate) expected: DVec3,
}

/// Logarithm of the standard normal distribution, for whatever argument.
pub(crate) fn ln_normal(z: f64) -> f64 {
    if z < FAR {
        let z2 = z * z;
        return -0.5 * z2 - LN_ROOT_TWO_PI - maths::ln(-z)
            + maths::ln_1p(-1.0 / z2 + 3.0 / (z2 * z2));
    }
    maths::ln(0.5 * maths::erfc(-z * core::f64::consts::FRAC_1_SQRT_2))
}

/// What is known of a coordinate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Known {
    /// It is this.
    Exactly,
    /// It is this or more.
    AtLeast,
    /// It is this or less.
    AtMost,
}

/// Of a sample whose coordinates are `known` so. `None` where the covariance is none.
pub(crate) fn censored(
    mean: DVec3,
    covariance: &DMat3,
    sample: DVec3,
    known: [Known; 3],
) -> Option<Censored> {
    let (mut mean, mut rest) = (mean, *covariance);
    let mut found = Censored {
        distance2: 0.0,
        log_determinant: 0.0,
        log_bounds: 0.0,
        seen: 0,
        expected: sample,
    };
    let mut product = 1.0;
    for k in 0..3 {
        if known[k] != Known::Exactly {
            continue;
        }
        let (column, variance) = (rest.col(k), rest.col(k)[k]);
        if variance.is_nan() || variance <= 0.0 {
            return None;
        }
        let off = sample[k] - mean[k];
        found.distance2 += off * off / variance;
        product *= variance;
        found.seen += 1;
        mean += column * (off / variance);
        rest -= outer(column, 1.0 / variance);
    }
    found.log_determinant = maths::ln(product);
    for k in 0..3 {
        if known[k] == Known::Exactly {
            continue;
        }
        let (column, variance) = (rest.col(k), rest.col(k)[k]);
        if variance.is_nan() || variance <= 0.0 {
            return None;
        }
        let sign = if known[k] == Known::AtLeast { 1.0 } else { -1.0 };
        let sigma = variance.sqrt();
        let z = sign * (mean[k] - sample[k]) / sigma;
        let log_tail = ln_normal(z);
        found.log_bounds += log_tail;
        // Mean and variance above the bound, by Mills' ratio.
        let ratio = maths::exp(-0.5 * z * z - LN_ROOT_TWO_PI - log_tail);
        let less = (ratio * (ratio + z)).clamp(0.0, 1.0 - 1e-9);
        mean += column * (sign * ratio / sigma);
        rest -= outer(column, less / variance);
    }
    for k in 0..3 {
        found.expected[k] = if known[k] == Known::Exactly { sample[k] } else { mean[k] };
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SciPy's numerical integrals, computed by `tests/reference/censored.py`.
    #[derive(serde::Deserialize)]
    struct Reference {
        cases: Vec<Case>,
    }

    #[derive(serde::Deserialize)]
    struct Case {
        id: String,
        mean: [f64; 3],
        covariance: [[f64; 3]; 3],
        sample: [f64; 3],
        known: [String; 3],
        log: f64,
    }

    #[test]
    fn bounds_are_integrals() {
        let text = include_str!("../../tests/censored.json");
        let reference: Reference = serde_json::from_str(text).unwrap();
        let mut by_bounds = [0; 4];
        for case in &reference.cases {
            let known = case.known.each_ref().map(|known| match known.as_str() {
                "exactly" => Known::Exactly,
                "at least" => Known::AtLeast,
                _ => Known::AtMost,
            });
            let covariance = DMat3::from_cols_array_2d(&case.covariance);
            let (mean, sample) = (DVec3::from(case.mean), DVec3::from(case.sample));
            let found = censored(mean, &covariance, sample, known).unwrap();
            let log = found.log_bounds
                - 0.5 * (found.distance2 + found.log_determinant)
                - LN_ROOT_TWO_PI * found.seen as f64;
            let bounds = 3 - found.seen;
            by_bounds[bounds] += 1;
            // One bound is exact; several are taken one after the other.
            let tolerance = if bounds < 2 { 1e-7 } else { 0.06 };
            assert!((log - case.log).abs() < tolerance, "{}: {log} {}", case.id, case.log);
            for k in 0..3 {
                let (is, bound) = (found.expected[k], sample[k]);
                match known[k] {
                    Known::Exactly => assert_eq!(is, bound),
                    Known::AtLeast => assert!(is > bound, "{}: {is} {bound}", case.id),
                    Known::AtMost => assert!(is < bound, "{}: {is} {bound}", case.id),
                }
            }
        }
        assert!(by_bounds.iter().all(|count| *count > 3), "{by_bounds:?}");
    }

    /// The standard normal distribution far out: Abramowitz and Stegun 26.2.12 says
    /// φ(z)/z (1 − 1/z² + …), and −z²/2 − ln(z √(2π)) is within 1/z² of its logarithm.
    #[test]
    fn the_tail_goes_on() {
        for z in [-3.0, -24.9, -25.1, -40.0, -200.0f64] {
            let wanted = -0.5 * z * z - maths::ln(-z) - LN_ROOT_TWO_PI;
            assert!((ln_normal(z) - wanted).abs() < 1.0 / (z * z), "{z}");
        }
        assert!((ln_normal(0.0) - maths::ln(0.5)).abs() < 1e-15);
        assert!((ln_normal(-25.0 + 1e-9) - ln_normal(-25.0 - 1e-9)).abs() < 1e-6);
    }
}
