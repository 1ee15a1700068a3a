//! The reading itself, by the method that the scene names or another.

use dryturn_handoff::{Frame, Reading};
use dryturn_scene::file::Method;

use crate::calibration::Calibration;
use crate::each::read_each;
use crate::likely;
use crate::models::model_of;
use crate::pixels::{FrameError, Patches, Sampled};

/// Reads one scan: its frames as [`dryturn_scene::file::SceneFile::picture_names`] has them, or
/// several such sets one after the other.
///
/// # Errors
/// Frames that do not fit the scene. Colours that make no cube are no error but
/// an outcome.
pub fn read(
    patches: &Patches,
    calibration: &Calibration,
    frames: &[Frame],
) -> Result<Reading, FrameError> {
    let sampled = Sampled::of(patches, frames)?;
    Ok(read_samples(patches, calibration, &sampled, patches.reader().method))
}

/// Reads one scan without a calibration: the colours are taken for those of a measured chart, in
/// a light that nobody knows.
///
/// # Errors
/// Frames that do not fit the scene.
pub fn read_blind(patches: &Patches, frames: &[Frame]) -> Result<Reading, FrameError> {
    Ok(likely::read_blind(patches, &Sampled::of(patches, frames)?))
}

/// Reads samples by a method; `Blind` does not look at the calibration.
#[must_use]
pub fn read_samples(
    patches: &Patches,
    calibration: &Calibration,
    sampled: &Sampled,
    method: Method,
) -> Reading {
    match method {
        Method::Likely => return likely::read_likely(patches, calibration, sampled),
        Method::Blind => return likely::read_blind(patches, sampled),
        _ => {}
    }
    let model = model_of(method, patches, calibration.references(), calibration.scales());
    read_each(patches, sampled, model.as_ref())
}
