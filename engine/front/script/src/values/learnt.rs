//! A calibration, and what it was learnt from.

use std::ops::Deref;
use std::sync::Arc;

use dryturn_cube::CubeState;
use dryturn_reading::{Calibration, KnownScan};
use dryturn_rehearsal::{BuiltRig, Rehearser};
use dryturn_scene::Scene;

/// What was shown, and on which rig: enough to show it to somebody else.
#[derive(Clone)]
pub(crate) struct Lesson {
    pub(crate) scene: Arc<Scene>,
    pub(crate) trial: u64,
    /// Known cubes; `None` for a solved one in all six mountings.
    cubes: Option<Vec<CubeState>>,
}

impl Lesson {
    pub(crate) fn of(rig: &BuiltRig, cubes: Option<Vec<CubeState>>) -> Self {
        Self { scene: rig.scene().clone(), trial: rig.trial(), cubes }
    }

    /// The rig that it was on, built once more.
    pub(crate) fn rig(&self, rehearser: &Rehearser) -> BuiltRig {
        rehearser.build(&self.scene, self.trial)
    }

    /// How many scans it has.
    pub(crate) fn scans(&self) -> usize {
        self.cubes.as_ref().map_or(dryturn_cube::MOUNTINGS.len(), Vec::len)
    }

    /// The same scans once more, on the rig that it was on.
    pub(crate) fn shown_on(&self, rig: &BuiltRig) -> Vec<KnownScan> {
        match &self.cubes {
            Some(cubes) => rig.scan_known(cubes),
            None => rig.scan_solved().collect(),
        }
    }
}

/// A calibration with its lesson.
pub(crate) struct Learnt {
    pub(crate) calibration: Calibration,
    pub(crate) lesson: Lesson,
}

impl Deref for Learnt {
    type Target = Calibration;
    fn deref(&self) -> &Calibration {
        &self.calibration
    }
}
