//! What a facelet's sample says of its colour, taken by itself.

mod chromaticity;
mod gaussian;
mod lab;
mod nearest;

use dryturn_cube::{Face, Facelet};
use dryturn_handoff::ColourPlane;
use dryturn_scene::file::Method;
use dryturn_units::maths;

use crate::looks::{References, Scales};
use crate::pixels::{Patches, Sample, Sampled};

use self::chromaticity::Chromaticity;
use self::gaussian::Gaussian;
use self::lab::Lab;
use self::nearest::Nearest;

/// A way to tell colours apart.
pub(crate) trait ColourModel {
    /// Log-likelihood of each colour, in the order U R F D L B, at a facelet with this sample.
    fn log_likelihoods(&self, facelet: Facelet, sample: &Sample) -> [f64; 6];

    /// How far the sample is from a colour, in the units of the model's scale in [`Scales`];
    /// `None` where the model has no such scale.
    fn distance(&self, facelet: Facelet, sample: &Sample, colour: usize) -> Option<f64>;

    /// How clearly it is the first of two colours and not the second, 0 to 1.
    fn margin(&self, facelet: Facelet, sample: &Sample, [best, next]: [Face; 2]) -> f64 {
        let logs = self.log_likelihoods(facelet, sample);
        let odds = logs[best.index()] - logs[next.index()];
        // The difference of their probabilities if there were no others.
        2.0 / (1.0 + maths::exp(-odds.min(500.0))) - 1.0
    }

    /// The samples in a plane of colour, where the model has one.
    fn plane(&self, _: &Sampled) -> Option<ColourPlane> {
        None
    }
}

/// The model of a method; those that look at whole cubes are `Gaussian` where facelets go one by
/// one.
pub(crate) fn model_of<'a>(
    method: Method,
    patches: &Patches,
    references: &'a References,
    scales: &Scales,
) -> Box<dyn ColourModel + 'a> {
    match method {
        Method::Nearest => Box::new(Nearest::of(references, scales)),
        Method::Chromaticity => Box::new(Chromaticity::of(patches, references, scales)),
        Method::Lab => Box::new(Lab::of(patches, references, scales)),
        Method::Gaussian | Method::Likely | Method::Blind => {
            Box::new(Gaussian::of(patches, references, scales))
        }
    }
}
