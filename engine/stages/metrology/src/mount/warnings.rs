//! What a person should know of a mount that was fitted.

use dryturn_geometry::{DVec2, DVec3};
use dryturn_scene::View;

use super::{ClickedPoint, LEAST_POINTS, MountFit, fitted};

/// Residuals above this are worth a warning, px.
const WARNING_PX: f64 = 3.0;

pub(super) fn warnings(
    fit: &MountFit,
    drawn: &View,
    points: &[ClickedPoint],
    pairs: &[(DVec3, DVec2)],
) -> Vec<String> {
    let mut said = Vec::new();
    if fit.rms_px > WARNING_PX {
        said.push(format!(
            "the points fit to {:.1} px only (rms); {}. Is it the right corner, and is the lens \
             measured?",
            fit.rms_px,
            worst(fit, drawn, points, pairs)
        ));
    }
    if fit.shift_mm.length() > 0.5 * drawn.pose.position.length() || fit.turn_deg.length() > 45.0 {
        said.push(format!(
            "the camera stands {:.0} mm and {:.0}° off the drawing: are the faces named as the \
             scene has them?",
            fit.shift_mm.length(),
            fit.turn_deg.length()
        ));
    }
    if pairs.len() == LEAST_POINTS {
        said.push(
            "four points leave little to judge the clicks by: click more, if more are seen"
                .to_owned(),
        );
    }
    said
}

/// The point without which the rest fits best, or that is farthest off.
fn worst(
    fit: &MountFit,
    drawn: &View,
    points: &[ClickedPoint],
    pairs: &[(DVec3, DVec2)],
) -> String {
    let by_distance = (0..pairs.len())
        .max_by(|&a, &b| fit.residual_px[a].total_cmp(&fit.residual_px[b]))
        .unwrap_or(0);
    let without = |skipped: usize| {
        let rest: Vec<(DVec3, DVec2)> =
            (0..pairs.len()).filter(|&i| i != skipped).map(|i| pairs[i]).collect();
        Some((fitted(drawn, &rest)?.rms_px, skipped))
    };
    // Five points at least must be left to say which of them is wrong; each is tried where
    // that is quick.
    let rest = (6..=32)
        .contains(&pairs.len())
        .then(|| (0..pairs.len()).filter_map(without).min_by(|a, b| a.0.total_cmp(&b.0)));
    match rest.flatten() {
        Some((rms, skipped)) if rms < 0.5 * fit.rms_px => {
            format!("without {} it would be {rms:.1} px", points[skipped].name)
        }
        _ => format!(
            "{} is farthest off, by {:.1} px",
            points[by_distance].name, fit.residual_px[by_distance]
        ),
    }
}
