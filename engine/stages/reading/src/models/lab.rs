//! CIELAB: the nearest reference by CIEDE2000.
//!
//! The camera's colours are taken for those of sRGB (IEC 61966-2-1), white is the white
//! facelets' own.

use dryturn_cube::Facelet;
use dryturn_scene::file::Pigment;
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::{Lab as Colour, Xyz};

use super::ColourModel;
use crate::looks::{References, Scales};
use crate::pixels::{Patches, Sample};

/// References in CIELAB.
pub(crate) struct Lab {
    white: Xyz,
    references: Vec<[Colour; 6]>,
    /// Standard deviation in each direction.
    sigma: f64,
}

impl Lab {
    pub(crate) fn of(patches: &Patches, references: &References, scales: &Scales) -> Self {
        let white = patches.face_of(Pigment::White);
        let white = white.map_or(EncodedRgb8([255; 3]), |face| references.pooled()[face.index()]);
        let white = Xyz(xyz(white).0.map(|v| v.max(1e-6)));
        let of = |facelet| references.encoded(facelet).map(|colour| xyz(colour).to_lab(white));
        Self {
            white,
            references: Facelet::all().map(of).collect(),
            sigma: scales.colour_difference,
        }
    }
}

fn xyz(colour: EncodedRgb8) -> Xyz {
    Xyz::of_srgb(colour.decode())
}

impl ColourModel for Lab {
    fn log_likelihoods(&self, facelet: Facelet, sample: &Sample) -> [f64; 6] {
        let own = xyz(sample.pixels.median).to_lab(self.white);
        self.references[facelet.index()].map(|reference| {
            let sigmas = own.difference(reference) / self.sigma;
            -0.5 * sigmas * sigmas
        })
    }

    fn distance(&self, facelet: Facelet, sample: &Sample, colour: usize) -> Option<f64> {
        let own = xyz(sample.pixels.median).to_lab(self.white);
        Some(own.difference(self.references[facelet.index()][colour]))
    }
}
