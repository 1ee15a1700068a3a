//! Chromaticity, with the rule for red and orange.
//!
//! In linear light, balanced so that white is grey, red holds more blue than green and
//! orange more green than blue (common practice, no source). The balance is the
//! calibration's: in other light the rule fails.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::DVec3;
use dryturn_scene::file::Pigment;
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::maths;

use super::ColourModel;
use crate::looks::{References, Scales};
use crate::pixels::{Patches, Sample};

/// Chromaticities of the six colours, the same at all places.
pub(crate) struct Chromaticity {
    balance: DVec3,
    middles: [DVec3; 6],
    red: Option<usize>,
    orange: Option<usize>,
    /// Standard deviation in each of the two directions.
    sigma: f64,
}

impl Chromaticity {
    pub(crate) fn of(patches: &Patches, references: &References, scales: &Scales) -> Self {
        let of = |pigment| patches.face_of(pigment).map(Face::index);
        let linear = references.pooled().map(|colour| DVec3::from_array(colour.decode().0));
        let white = of(Pigment::White).map_or(DVec3::ONE, |white| linear[white]);
        let balance = DVec3::ONE / white.max(DVec3::splat(1e-3));
        let middles = linear.map(|colour| shares(colour * balance));
        let (red, orange) = (of(Pigment::Red), of(Pigment::Orange));
        Self { balance, middles, red, orange, sigma: scales.chromaticity_share }
    }

    fn seen(&self, colour: EncodedRgb8) -> DVec3 {
        shares(DVec3::from_array(colour.decode().0) * self.balance)
    }
}

/// Red, green and blue as shares of their sum.
fn shares(linear: DVec3) -> DVec3 {
    linear / linear.element_sum().max(1e-6)
}

impl ColourModel for Chromaticity {
    fn log_likelihoods(&self, _: Facelet, sample: &Sample) -> [f64; 6] {
        let seen = self.seen(sample.pixels.median);
        let log = |off: f64| -0.5 * (off / self.sigma) * (off / self.sigma);
        let mut logs: [f64; 6] =
            core::array::from_fn(|colour| log(seen.distance(self.middles[colour])));
        if let (Some(red), Some(orange)) = (self.red, self.orange) {
            // Whichever of the two: the nearer. Which of the two: the rule.
            let either = logs[red].max(logs[orange]);
            let bluer = (seen.z - seen.y) / self.sigma;
            logs[red] = either - maths::ln_1p(maths::exp(-bluer.clamp(-500.0, 500.0)));
            logs[orange] = either - maths::ln_1p(maths::exp(bluer.clamp(-500.0, 500.0)));
        }
        logs
    }

    fn distance(&self, _: Facelet, sample: &Sample, colour: usize) -> Option<f64> {
        Some(self.seen(sample.pixels.median).distance(self.middles[colour]))
    }
}
