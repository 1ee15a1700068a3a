//! Gaussian classes of the logarithm of light, each at its place as calibrated.

use dryturn_cube::Facelet;
use dryturn_geometry::DVec3;
use dryturn_handoff::ColourPlane;

use super::ColourModel;
use crate::looks::{Appearance, References, Scales, Seen, Stray, plane};
use crate::pixels::{Patches, Sample, Sampled};

/// The classes.
pub(crate) struct Gaussian {
    looks: Appearance,
}

impl Gaussian {
    pub(crate) fn of(patches: &Patches, references: &References, scales: &Scales) -> Self {
        Self { looks: Appearance::of(patches, references, scales) }
    }

    fn seen(&self, facelet: Facelet, sample: &Sample) -> Seen {
        self.looks.seen((sample.camera, facelet), &sample.pixels)
    }
}

impl ColourModel for Gaussian {
    fn log_likelihoods(&self, facelet: Facelet, sample: &Sample) -> [f64; 6] {
        let seen = self.seen(facelet, sample);
        core::array::from_fn(|colour| {
            let expected = self.looks.expected(&seen, (colour, Stray::Steady), DVec3::ZERO);
            expected.map_or(0.0, |expected| seen.log_density(&expected))
        })
    }

    fn distance(&self, _: Facelet, _: &Sample, _: usize) -> Option<f64> {
        None
    }

    fn plane(&self, sampled: &Sampled) -> Option<ColourPlane> {
        let found = Facelet::all().zip(&sampled.samples);
        let seen = found.filter_map(|(facelet, s)| Some(self.seen(facelet, s.as_ref()?)));
        Some(plane(&self.looks, seen.map(|seen| (seen.facelet, seen.log))))
    }
}
