//! Photon transfer of one colour plane.

use dryturn_numerics::Symmetric2;

use super::PlaneFit;
use super::raw::Level;

/// The straight line goes up to this share of saturation (EMVA 1288, from memory).
const FIT_SHARE: f64 = 0.7;
/// The linearity error counts between these shares of saturation (EMVA 1288, from memory).
const LINEAR_SHARES: (f64, f64) = (0.05, 0.95);
/// A level with a larger share of pixels at the highest code is saturated.
const CLIPPED_SHARE: f64 = 0.001;
/// Variance of rounding to whole codes.
const ROUNDING: f64 = 1.0 / 12.0;
/// Below this dark variance the rounding hides the dark noise (EMVA 1288, from memory).
const LEAST_DARK_VARIANCE: f64 = 0.24;
/// Fewest levels of a straight line.
const LEAST_LEVELS: usize = 3;

/// What is wrong with a plane, by number of the pair.
pub(super) enum PlaneError {
    NoLight { level: usize, mean: f64, dark: f64 },
    Saturated { level: usize, share: f64, usable: usize },
    Bright { usable: usize, most: f64 },
    NoTransfer,
}

/// A measured plane.
pub(super) struct Plane {
    pub(super) fit: PlaneFit,
    pub(super) black_code: f64,
    /// Mean code at saturation, where it is reached.
    pub(super) saturation_code: Option<f64>,
    /// Whether dark codes are cut off at 0.
    pub(super) dark_cut: bool,
}

/// Measures the plane at a place of the 2 × 2 block. `levels` are sorted by light.
pub(super) fn measure(
    levels: &[Level],
    place: Option<[usize; 2]>,
    highest: u16,
) -> Result<Plane, PlaneError> {
    let darks = levels.iter().filter(|l| l.light == 0.0).count();
    let mean =
        |pick: fn(&Level) -> f64| levels[..darks].iter().map(pick).sum::<f64>() / darks as f64;
    let (black_code, dark_variance) = (mean(|l| l.mean), mean(|l| l.variance));
    let (flats, zero_share) = (&levels[darks..], mean(|l| l.zero_share));
    let dark_count: f64 = levels[..darks].iter().map(|l| l.count).sum();
    let dim = flats.iter().position(|l| {
        let error = (l.variance / l.count + dark_variance / dark_count).sqrt();
        l.mean - black_code <= 3.0 * error
    });
    if let Some(k) = dim {
        let mean = flats[k].mean;
        return Err(PlaneError::NoLight { level: darks + k, mean, dark: black_code });
    }
    // The noise falls again where pixels begin to saturate.
    let peak = (0..flats.len())
        .filter(|&k| flats[k].clipped_share <= 0.5)
        .max_by(|&a, &b| flats[a].variance.total_cmp(&flats[b].variance));
    let reached = peak.filter(|&k| k + 1 < flats.len() || flats[k].clipped_share > CLIPPED_SHARE);
    let falls = |k: usize| flats[k + 1..].iter().any(|l| l.variance < 0.8 * flats[k].variance);
    let clipped = flats.iter().any(|l| l.clipped_share > CLIPPED_SHARE);
    let saturation_code = if clipped {
        Some(f64::from(highest))
    } else {
        // What saturates below the highest code: where even more light adds nothing.
        reached.filter(|&k| falls(k)).and_then(|_| flats.last()).map(|last| last.mean)
    };
    let full = saturation_code.unwrap_or(f64::from(highest)) - black_code;
    let usable: Vec<&Level> = flats
        .iter()
        .filter(|l| l.mean - black_code <= FIT_SHARE * full && l.clipped_share <= CLIPPED_SHARE)
        .collect();
    if usable.len() < LEAST_LEVELS {
        let first = flats.iter().position(|l| l.clipped_share > CLIPPED_SHARE);
        return Err(match first {
            Some(k) => PlaneError::Saturated {
                level: darks + k,
                share: flats[k].clipped_share,
                usable: usable.len(),
            },
            None => {
                PlaneError::Bright { usable: usable.len(), most: black_code + FIT_SHARE * full }
            }
        });
    }
    let (gain, gain_error) = slope(&usable, black_code, (dark_variance, dark_count));
    if gain <= 4.0 * gain_error || !gain.is_finite() {
        return Err(PlaneError::NoTransfer);
    }
    let fit = PlaneFit {
        place,
        codes_per_e: (gain, gain_error),
        levels: usable.len(),
        dark_noise_e: dark_noise(dark_variance, dark_count, (gain, gain_error)),
        linearity_share: linearity(flats, black_code, full),
        transfer: levels.iter().map(|l| [l.mean, l.variance]).collect(),
    };
    Ok(Plane { fit, black_code, saturation_code, dark_cut: zero_share > 0.01 })
}

/// Slope of the line through the dark point: variance less dark variance, over mean less
/// dark mean (EMVA 1288, from memory). Its error follows from that of a variance of `n`
/// differences, `2 σ⁴ / n`.
fn slope(levels: &[&Level], black: f64, (dark, dark_count): (f64, f64)) -> (f64, f64) {
    let signal = |l: &Level| l.mean - black;
    let squares: f64 = levels.iter().map(|l| signal(l) * signal(l)).sum();
    let product: f64 = levels.iter().map(|l| signal(l) * (l.variance - dark)).sum();
    let own: f64 = levels
        .iter()
        .map(|l| signal(l) * signal(l) * 2.0 * l.variance * l.variance / l.count)
        .sum();
    let sum: f64 = levels.iter().map(|l| signal(l)).sum();
    let shared = sum * sum * 2.0 * dark * dark / dark_count;
    (product / squares, (own + shared).sqrt() / squares)
}

/// `σ_d = √(σ² − 1/12) / K` (EMVA 1288, from memory).
fn dark_noise(variance: f64, count: f64, (gain, gain_error): (f64, f64)) -> Option<(f64, f64)> {
    (variance >= LEAST_DARK_VARIANCE).then(|| {
        let codes = (variance - ROUNDING).sqrt();
        let from_variance = variance * (2.0 / count).sqrt() / (2.0 * codes * gain);
        let from_gain = codes * gain_error / (gain * gain);
        (codes / gain, (from_variance * from_variance + from_gain * from_gain).sqrt())
    })
}

/// Largest and mean deviation from the line that fits best in relative terms, as a share
/// of it (EMVA 1288, from memory).
fn linearity(flats: &[Level], black: f64, full: f64) -> Option<[f64; 2]> {
    let (low, high) = LINEAR_SHARES;
    let points: Vec<(f64, f64)> = flats
        .iter()
        .map(|l| (l.light, l.mean - black))
        .filter(|(_, signal)| (low * full..=high * full).contains(signal))
        .collect();
    if points.len() < 4 {
        return None;
    }
    // Least squares of (a + b·light − signal) / signal.
    let sum = |f: &dyn Fn(f64, f64) -> f64| points.iter().map(|&(h, y)| f(h, y) / (y * y)).sum();
    let (one, light, lights): (f64, f64, f64) =
        (sum(&|_, _| 1.0), sum(&|h, _| h), sum(&|h, _| h * h));
    let (right, slanted): (f64, f64) = (sum(&|_, y| y), sum(&|h, y| h * y));
    let matrix = Symmetric2 { xx: one, xy: light, yy: lights };
    if matrix.determinant() <= 1e-12 * one * lights {
        return None;
    }
    let [a, b] = matrix.solve([right, slanted]);
    let off: Vec<f64> = points.iter().map(|&(h, y)| (y / (a + b * h) - 1.0).abs()).collect();
    let most = off.iter().copied().fold(0.0, f64::max);
    Some([most, off.iter().sum::<f64>() / off.len() as f64])
}
