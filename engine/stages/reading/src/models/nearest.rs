//! The baseline: the nearest reference by summed absolute RGB difference.

use dryturn_cube::{Face, Facelet};

use super::ColourModel;
use crate::looks::{References, Scales};
use crate::pixels::Sample;

/// References as they were seen.
pub(crate) struct Nearest<'a> {
    references: &'a References,
    /// Mean difference of a channel from its own reference, codes.
    scale: f64,
}

impl<'a> Nearest<'a> {
    pub(crate) fn of(references: &'a References, scales: &Scales) -> Self {
        Self { references, scale: scales.summed_codes }
    }

    fn codes(&self, facelet: Facelet, sample: &Sample, colour: usize) -> u32 {
        sample.pixels.median.summed_difference(self.references.encoded(facelet)[colour])
    }
}

impl ColourModel for Nearest<'_> {
    fn log_likelihoods(&self, facelet: Facelet, sample: &Sample) -> [f64; 6] {
        // Laplace's distribution: what summed absolute differences go with.
        core::array::from_fn(|colour| -f64::from(self.codes(facelet, sample, colour)) / self.scale)
    }

    fn distance(&self, facelet: Facelet, sample: &Sample, colour: usize) -> Option<f64> {
        Some(f64::from(self.codes(facelet, sample, colour)))
    }

    fn margin(&self, facelet: Facelet, sample: &Sample, [best, next]: [Face; 2]) -> f64 {
        let [first, second] =
            [best, next].map(|face| f64::from(self.codes(facelet, sample, face.index())));
        let sum = first + second;
        if sum > 0.0 { (second - first) / sum } else { 0.0 }
    }
}
