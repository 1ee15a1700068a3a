//! How far samples stray from their colours' references, for each way to tell colours apart.

use dryturn_geometry::DMat3;
use serde::{Deserialize, Serialize};

use crate::classes::{of_six, six_of, together_and_each};

/// Standard deviations that are expected of a facelet's logarithm before any is seen: all
/// channels together, and each by itself.
const EXPECTED_TOGETHER: f64 = 0.05;
const EXPECTED_EACH: f64 = 0.03;

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

impl Scales {
    /// Before anything was learnt.
    pub(crate) fn unknown() -> Self {
        Self {
            summed_codes: 1.0,
            chromaticity_share: 1.0,
            colour_difference: 1.0,
            shrinkage_share: 1.0,
            log_covariances: [six_of(&Self::expected()); 6],
        }
    }

    /// Covariance of a facelet's logarithms that is expected before any is seen.
    pub(crate) fn expected() -> DMat3 {
        together_and_each(EXPECTED_TOGETHER, EXPECTED_EACH)
    }

    /// Covariances of the logarithms of light, by colour.
    pub(crate) fn covariances(&self) -> [DMat3; 6] {
        self.log_covariances.map(of_six)
    }

    /// Whether every scale is above zero and every covariance one.
    pub(crate) fn sound(&self) -> bool {
        let scales = [self.summed_codes, self.chromaticity_share, self.colour_difference];
        let definite = |m: DMat3| {
            let second = m.x_axis.x * m.y_axis.y - m.x_axis.y * m.y_axis.x;
            m.x_axis.x > 0.0 && second > 0.0 && m.determinant() > 0.0
        };
        scales.iter().all(|s| s.is_finite() && *s > 0.0)
            && self.log_covariances.iter().flatten().all(|v| v.abs() < 100.0)
            && self.covariances().into_iter().all(definite)
    }
}
