//! The reading itself, by the method that the scene names.

use dryturn_handoff::{Frame, Reading};
use dryturn_scene::file::Method;

use crate::calibration::Calibration;
use crate::likely::read_likely;
use crate::nearest::read_nearest;
use crate::patches::{FrameError, Patches};

/// Reads one scan: a frame of each camera, in the scene's order.
///
/// # Errors
/// Frames that do not fit the scene. Colours that make no cube are no error but
/// an outcome.
pub fn read(
    patches: &Patches,
    calibration: &Calibration,
    frames: &[Frame],
) -> Result<Reading, FrameError> {
    patches.check(frames)?;
    Ok(match patches.reader().method {
        Method::Likely => read_likely(patches, calibration, frames),
        Method::Nearest => read_nearest(patches, calibration, frames),
    })
}
