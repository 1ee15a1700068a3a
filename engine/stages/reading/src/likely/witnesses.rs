//! Who else is asked where one reading by the calibration is not enough.

use dryturn_handoff::Reading;

use super::belief::Belief;
use super::known::Before;
use super::scan::read_from;
use crate::calibration::Calibration;
use crate::pixels::{Patches, Sampled};

/// Whether two readings find the same cube most probable.
fn same(one: &Reading, other: &Reading) -> bool {
    one.most_probable == other.most_probable && one.centres == other.centres
}

/// Reads one scan without a calibration.
pub(crate) fn read_blind(patches: &Patches, sampled: &Sampled) -> Reading {
    unseen(patches, sampled, Belief::Blind)
}

fn unseen(patches: &Patches, sampled: &Sampled, belief: Belief) -> Reading {
    let [reading] = read_from(patches, &Before::unseen(patches, sampled), sampled, [belief]);
    reading
}

/// Reads one scan by the calibration. Where that finds a cube, but not for certain, what cube
/// colours usually look like is asked too; where there are more than two cameras, each is left
/// out in turn, for one whose picture misleads must not make the reading worse than without it.
pub(crate) fn read_likely(
    patches: &Patches,
    calibration: &Calibration,
    sampled: &Sampled,
) -> Reading {
    let before = Before::calibrated(patches, calibration, sampled);
    let beliefs = [Belief::Alone, Belief::Confirmed];
    let [all, confirmed] = read_from(patches, &before, sampled, beliefs);
    if all.state().is_some() {
        return all;
    }
    let mut steps = all.steps;
    // Without a probability it has found no cube.
    if all.probability.is_some() {
        let blind = unseen(patches, sampled, Belief::Beside);
        steps += blind.steps;
        if same(&all, &blind) {
            if blind.state().is_some() {
                return Reading { cameras: all.cameras, steps, ..blind };
            }
            if confirmed.state().is_some() {
                return Reading { steps, ..confirmed };
            }
        }
    }
    if patches.camera_count() < 3 {
        return Reading { steps, ..all };
    }
    let fewer = |camera: usize| {
        let [reading] = read_from(patches, &before, &sampled.without(camera), [Belief::Alone]);
        reading
    };
    let fewer: Vec<Reading> = (0..patches.camera_count()).map(fewer).collect();
    steps += fewer.iter().map(|reading| reading.steps).sum::<u64>();
    let mut read = fewer.into_iter().filter(|reading| reading.state().is_some());
    let Some(first) = read.next() else { return Reading { steps, ..all } };
    let likely = all.probability.is_some_and(|probability| probability > 0.5);
    let agreed = read.all(|other| same(&first, &other)) && (!likely || same(&all, &first));
    Reading { steps, ..if agreed { first } else { all } }
}
