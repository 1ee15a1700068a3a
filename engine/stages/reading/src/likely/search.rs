//! All that a change of the light is sought in: what is seen, what is known beforehand, and how a
//! cube is found in the end.

use core::cell::Cell;
use std::sync::Arc;

use dryturn_geometry::DVec3;

use super::beforehand::Beforehand;
use super::prior::Moved;
use crate::decoder::{Evidence, Mounted};
use crate::looks::{Appearance, Seen};

/// Elementary steps that a decoding counts for.
const DECODING_STEPS: u64 = 400;
/// What is seen of a facelet, and how much it counts.
pub(super) struct Sight {
    pub(super) seen: Seen,
    pub(super) weight: f64,
}

/// All that a change of the light is sought in.
pub(super) struct Search<'a> {
    pub(super) looks: &'a Appearance,
    pub(super) sights: &'a [Sight],
    /// By camera: what is known of the light, as [`Moved`] has it.
    pub(super) known: Vec<[Beforehand; 6]>,
    /// By camera, as [`Appearance::elsewhere`] has it.
    pub(super) elsewhere: Vec<Arc<Vec<[DVec3; 6]>>>,
    /// By facelet index: the share of each lamp, and of the room, in its light as drawn.
    pub(super) shares: Arc<Vec<Vec<f64>>>,
    /// By camera: the change that the grey patch shows.
    pub(super) patches: Vec<Option<DVec3>>,
    /// The colour that throws back most light.
    pub(super) whitest: usize,
    /// The most probable cube of some evidence.
    pub(super) decoder: fn(&Evidence) -> Mounted,
    /// Elementary steps so far.
    pub(super) steps: Cell<u64>,
}

impl Search<'_> {
    /// The most probable cube of some evidence.
    pub(super) fn decode(&self, evidence: &Evidence) -> Mounted {
        self.count(DECODING_STEPS);
        (self.decoder)(evidence)
    }

    pub(super) fn count(&self, steps: u64) {
        self.steps.set(self.steps.get() + steps);
    }

    /// The mean of something over all sights, each counting as much as it does.
    pub(super) fn mean(&self, of: impl Fn(usize, &Sight) -> f64) -> f64 {
        let all: f64 = self.sights.iter().map(|sight| sight.weight).sum();
        let sights = self.sights.iter().enumerate();
        sights.map(|(k, sight)| sight.weight * of(k, sight)).sum::<f64>() / all.max(1e-9)
    }

    /// What is known of a camera's light beforehand where the light has moved so.
    pub(super) fn beforehand(&self, moved: Moved, camera: usize) -> &Beforehand {
        &self.known[camera][moved as usize]
    }
}

/// The mean of something, each counting as much as its weight.
pub(super) fn weighted_mean(all: impl Iterator<Item = (f64, DVec3)>) -> DVec3 {
    let (sum, count) =
        all.fold((DVec3::ZERO, 0.0), |(sum, n), (weight, of)| (sum + of * weight, n + weight));
    sum / f64::max(count, 1e-9)
}
