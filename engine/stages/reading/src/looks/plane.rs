//! Samples and classes in a plane of colour, for people to look at.

use dryturn_cube::Facelet;
use dryturn_geometry::{DMat3, DVec3};
use dryturn_handoff::ColourPlane;

use super::appearance::{Appearance, Stray};

/// Logarithms of red over green, and of blue over green.
fn flat(log: DVec3) -> [f64; 2] {
    [log.x - log.y, log.z - log.y]
}

fn flat_covariance(c: &DMat3) -> [f64; 3] {
    let (x, y) = (DVec3::new(1.0, -1.0, 0.0), DVec3::new(0.0, -1.0, 1.0));
    [x.dot(*c * x), x.dot(*c * y), y.dot(*c * y)]
}

/// The plane of some samples: logarithms of their light as it would be in the light of the
/// calibration. What a place has in common for all colours is taken away.
pub(crate) fn plane(
    looks: &Appearance,
    samples: impl Iterator<Item = (Facelet, DVec3)>,
) -> ColourPlane {
    let places: Vec<Option<[DVec3; 6]>> = Facelet::all().map(|f| looks.logs(f)).collect();
    let count = places.iter().flatten().count().max(1) as f64;
    let mean = |logs: &[DVec3; 6]| logs.iter().sum::<DVec3>() / 6.0;
    let all = places.iter().flatten().map(mean).sum::<DVec3>() / count;
    let off = |facelet: Facelet| places[facelet.index()].map_or(DVec3::ZERO, |l| mean(&l) - all);
    let middle = |colour: usize| {
        places.iter().flatten().map(|l| l[colour] - mean(l) + all).sum::<DVec3>() / count
    };
    ColourPlane {
        samples: samples.map(|(facelet, log)| (facelet, flat(log - off(facelet)))).collect(),
        classes: core::array::from_fn(|colour| {
            (flat(middle(colour)), flat_covariance(&looks.spread(0, colour, Stray::Changed)))
        }),
    }
}
