//! What a person should know of a lens that was fitted.

use dryturn_numerics::upper_median;

use super::LensFit;

/// Boards that reach less far towards the corners leave the distortion there open.
const REACH_SHARE: f64 = 0.7;
/// Corners are usually found within this; more means a bent board or a wrong model.
const USUAL_RMS_PX: f64 = 0.5;

pub(super) fn warnings(fit: &LensFit) -> Vec<String> {
    let mut said = Vec::new();
    let median = upper_median(fit.rms_by_picture_px.iter().copied()).unwrap_or(f64::INFINITY);
    for (i, rms) in fit.rms_by_picture_px.iter().enumerate() {
        if *rms > 3.0 * median && *rms > 0.1 {
            said.push(format!(
                "picture {} fits worse than the others: {rms:.2} px against {median:.2} px; is it \
                 blurred, or the board bent?",
                i + 1
            ));
        }
    }
    if fit.rms_px > USUAL_RMS_PX {
        said.push(format!(
            "corners are {:.2} px off (rms), where {USUAL_RMS_PX} px are usual (common practice, no \
             source): the board may not be flat, or the lens of another kind",
            fit.rms_px
        ));
    }
    if fit.reach_share < REACH_SHARE {
        said.push(format!(
            "the boards reach {:.0} % of the way to the picture's corners; beyond, the distortion \
             is a guess",
            100.0 * fit.reach_share
        ));
    }
    if fit.tilt_deg < 20.0 {
        said.push(format!(
            "the boards differ in tilt by {:.0}° at most; more makes the focal length surer",
            fit.tilt_deg
        ));
    }
    said
}
