//! What is believed, and who else is asked where one reading by the calibration is not enough.

use dryturn_handoff::Reading;
use dryturn_scene::file::Reader;

use super::prior::Moved;
use super::{Before, read_from};
use crate::calibration::Calibration;
use crate::pixels::{Patches, Sampled};

/// Share of the doubt that the scene allows which is allowed a reading by the calibration alone
/// where the light has changed, and one without a calibration that finds the same cube as one with
/// it. (Of 700 rendered scans in lights that change, 627 claimed 99 % by the calibration, and three of
/// them were wrong, at 99.1, 99.3 and 99.9 %, in light that filled a sensor of wide channels. The reading
/// without it found another cube each time; of 41 right ones that claimed less than 99.9 %, it found
/// the same for 32.)
const DOUBT_ALONE: f64 = 0.1;
/// The same of a reading without a calibration by itself. (Of 1,400 such scans 893 claimed 99.9 %, and
/// six of them were wrong; 718 claimed 99.99 %, and two were.)
const DOUBT_BLIND: f64 = 0.01;

/// On what a reading rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Belief {
    /// On a calibration alone.
    Alone,
    /// On a calibration, and on what cube colours usually look like, which finds the same cube.
    Confirmed,
    /// On what cube colours usually look like, beside a reading by a calibration.
    Beside,
    /// On what cube colours usually look like alone.
    Blind,
}

impl Belief {
    /// How improbable a cube may be and still be believed, in light that has moved so far.
    pub(super) fn most_doubt(self, reader: &Reader, moved: Moved) -> f64 {
        let doubt = 1.0 - reader.certainty_share;
        match self {
            Self::Confirmed => doubt,
            Self::Alone if moved == Moved::Not => doubt,
            Self::Alone | Self::Beside => doubt * DOUBT_ALONE,
            Self::Blind => doubt * DOUBT_BLIND,
        }
    }
}

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
