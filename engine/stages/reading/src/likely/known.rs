//! What is known of the colours before a scan is read.

use std::sync::Arc;

use dryturn_geometry::DVec3;

use crate::calibration::Calibration;
use crate::looks::Appearance;
use crate::pixels::{Patches, Sampled};
use crate::rendering::log_light;

/// What is known before a scan is read.
pub(super) struct Before {
    pub(super) looks: Appearance,
    /// By camera: the change that the grey patch shows.
    pub(super) patches: Vec<Option<DVec3>>,
    /// Whether the colours were seen before.
    pub(super) calibrated: bool,
    /// By facelet index: shares of each lamp and of the room in the light that they were seen in.
    pub(super) shares: Arc<Vec<Vec<f64>>>,
}

impl Before {
    /// Where the colours were seen in a calibration.
    pub(super) fn calibrated(
        patches: &Patches,
        calibration: &Calibration,
        sampled: &Sampled,
    ) -> Self {
        let light = |camera: usize| {
            let seen = calibration.grey(camera)?;
            Some(patches.rendering(camera).light(seen))
        };
        Self {
            looks: Appearance::of(patches, calibration.references(), calibration.scales()),
            patches: patch_changes(patches, light, sampled),
            calibrated: true,
            shares: Arc::new(calibration.shares().to_vec()),
        }
    }

    /// Where nobody saw them: they are taken for those of a measured chart, in a light that nobody
    /// knows.
    pub(super) fn unseen(patches: &Patches, sampled: &Sampled) -> Self {
        let white = |camera: usize| Some(patches.rendering(camera).white());
        Self {
            looks: Appearance::unseen(patches),
            patches: patch_changes(patches, white, sampled),
            calibrated: false,
            shares: Arc::default(),
        }
    }
}

/// By camera: how the grey patch's light has changed from what it was.
fn patch_changes(
    patches: &Patches,
    was: impl Fn(usize) -> Option<DVec3>,
    sampled: &Sampled,
) -> Vec<Option<DVec3>> {
    let change = |(camera, now): (usize, &Option<_>)| {
        let now = patches.rendering(camera).light((*now)?);
        Some(log_light(now) - log_light(was(camera)?))
    };
    sampled.grey.iter().enumerate().map(change).collect()
}
