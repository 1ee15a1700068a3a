//! What becomes of sightings that a calibration leaves out in turn.

use dryturn_cube::{Face, Facelet};
use dryturn_scene::file::Method;

use crate::looks::{References, Scales, Sighting};
use crate::models::model_of;
use crate::pixels::{Patches, Pixels, Sample};

/// The ways to tell colours apart that cross-validation compares, in the order of
/// [`super::Checked::wrong`].
pub const LEFT_OUT_WAYS: [Method; 4] =
    [Method::Nearest, Method::Chromaticity, Method::Lab, Method::Gaussian];

/// A sighting that was left out, as the others lead one to read it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeftOut {
    /// Where it was seen.
    pub facelet: Facelet,
    /// The true colour, as its face.
    pub colour: Face,
    /// Log-likelihood of each colour, in the order U R F D L B, by each way of
    /// [`LEFT_OUT_WAYS`].
    pub log_likelihoods: [[f64; 6]; 4],
}

impl LeftOut {
    /// The colour that a way takes it for, by the way's place in [`LEFT_OUT_WAYS`].
    #[must_use]
    pub fn taken(&self, way: usize) -> Face {
        let logs = &self.log_likelihoods[way];
        let best = Face::ALL.into_iter().max_by(|a, b| logs[a.index()].total_cmp(&logs[b.index()]));
        best.unwrap_or(Face::U)
    }
}

/// Reads each sighting by the references that were learnt without its fold; `None` where
/// these lack a colour.
pub(super) fn left_out(
    patches: &Patches,
    sightings: &[Sighting],
    (without, scales): (&[Option<References>], &Scales),
) -> Vec<LeftOut> {
    let mut found = Vec::new();
    for (fold, references) in without.iter().enumerate() {
        let Some(references) = references else { continue };
        let models = LEFT_OUT_WAYS.map(|way| model_of(way, patches, references, scales));
        for (sighting, facelet, sample) in placed(patches, sightings, fold) {
            let colour = Face::from_index(sighting.colour);
            let log_likelihoods =
                models.each_ref().map(|model| model.log_likelihoods(facelet, &sample));
            found.push(LeftOut { facelet, colour, log_likelihoods });
        }
    }
    found
}

/// The sightings of a fold by the cameras that see most of each place, as samples there; where
/// nobody knows the place, any that is read.
pub(super) fn placed<'a>(
    patches: &'a Patches,
    sightings: &'a [Sighting],
    fold: usize,
) -> impl Iterator<Item = (&'a Sighting, Facelet, Sample)> {
    let anywhere = Facelet::all().find(|&facelet| patches.camera_of(facelet).is_some());
    sightings.iter().filter(move |s| s.fold == fold).filter_map(move |sighting| {
        let facelet = sighting.facelet.or(anywhere)?;
        let camera = patches.camera_of(facelet)?;
        let pixels = Pixels::even(sighting.seen);
        let best = sighting.camera.is_none_or(|seen_by| seen_by == camera);
        best.then_some((sighting, facelet, Sample { camera, pixels }))
    })
}
