//! Cameras: the view as drawn, and what must fit together.

use dryturn_geometry::{DVec2, DVec3, Distortion, Lens, Pose};
use dryturn_units::{maths, radians};

use crate::drawing::View;
use crate::fault::{Faults, FieldError};
use crate::file::{Camera, FixtureUse, SceneFile, WhiteBalance};

/// Samples a pixel: squares of powers of two.
const SAMPLES_PX: [u32; 6] = [1, 4, 16, 64, 256, 1024];

pub(super) fn check(file: &SceneFile, found: &mut Faults) -> Option<Vec<View>> {
    let patch = file.fixtures.iter().any(|fixture| fixture.role == FixtureUse::GreyPatch);
    let fixtures = found.sound(&["fixtures"]);
    let view = |(i, camera): (usize, &Camera)| {
        if !found.sound(&[&format!("cameras[{i}]")]) {
            return None;
        }
        let wrong = |field: &str, value: String, allowed: String| {
            FieldError::new(format!("cameras[{i}].{field}"), value, allowed)
        };
        if !SAMPLES_PX.contains(&camera.samples_px) {
            let allowed = "1, 4, 16, 64, 256 or 1024".to_owned();
            found.push(wrong("samples_px", camera.samples_px.to_string(), allowed));
        }
        if camera.white_balance == WhiteBalance::GreyPatch && !patch && fixtures {
            let allowed = "Fixed or GreyWorld where no fixture is a GreyPatch".to_owned();
            found.push(wrong("white_balance", "GreyPatch".to_owned(), allowed));
        }
        // At a gain below 1 a full well is less than full scale.
        let most = camera.gain_ratio.min(1.0);
        if camera.auto_exposure_share >= 0.95 * most {
            let allowed = format!("below {:.3}: 0.95 of what a full well reaches", 0.95 * most);
            let value = camera.auto_exposure_share.to_string();
            found.push(wrong("auto_exposure_share", value, allowed));
        }
        if let Some((field, value, allowed)) = second_picture(camera) {
            found.push(wrong(field, value, allowed));
        }
        let view = view_of(i, camera).map_err(|error| found.push(error)).ok()?;
        // The lens stands so far from the sensor; nearer than that nothing is sharp.
        let image_mm = view.lens.focal_px.x * camera.pixel_pitch_um * 1e-3;
        if camera.focus_mm > 0.0 && camera.focus_mm < 2.0 * image_mm {
            let allowed = format!(
                "0, or at least {:.1}: twice the lens's distance from the sensor",
                2.0 * image_mm
            );
            found.push(wrong("focus_mm", camera.focus_mm.to_string(), allowed));
        }
        Some(view)
    };
    let views: Vec<Option<View>> = file.cameras.iter().enumerate().map(view).collect();
    views.into_iter().collect()
}

/// What of a camera's second picture is beyond its ranges, whatever exposure time it chooses: the
/// field, its value and what is allowed.
fn second_picture(camera: &Camera) -> Option<(&'static str, String, String)> {
    let automatic = camera.auto_exposure_share > 0.0;
    let [shortest_ms, longest_ms] =
        if automatic { Camera::CHOSEN_MS } else { [camera.exposure_ms; 2] };
    if camera.takes_two() && shortest_ms * camera.bracket_share < Camera::SHORTEST_MS {
        let least = (1e3 * Camera::SHORTEST_MS / shortest_ms).ceil() * 1e-3;
        let allowed = format!(
            "at least {least:.3}, or 1: no exposure is shorter than {} ms",
            Camera::SHORTEST_MS
        );
        return Some(("bracket_share", camera.bracket_share.to_string(), allowed));
    }
    let longest = Camera { exposure_ms: longest_ms, ..camera.clone() };
    let before_ms = longest.darker()?.start_ms - camera.start_ms;
    (camera.start_ms + before_ms > Camera::LATEST_MS).then(|| {
        let latest_ms = (Camera::LATEST_MS - before_ms).floor();
        let allowed =
            format!("at most {latest_ms}: the darker picture follows {before_ms:.3} ms later");
        ("start_ms", camera.start_ms.to_string(), allowed)
    })
}

/// A camera's darker picture must not be called what another camera is.
pub(super) fn check_pictures(file: &SceneFile, found: &mut Faults) {
    for (i, camera) in file.cameras.iter().enumerate() {
        let pictures = camera.picture_names();
        let Some(darker) = pictures.get(1) else { continue };
        if file.cameras.iter().any(|other| other.name.eq_ignore_ascii_case(darker)) {
            let allowed = format!("1, or no camera called {darker}, as the darker picture is");
            let field = format!("cameras[{i}].bracket_share");
            found.push(FieldError::new(field, camera.bracket_share.to_string(), allowed));
        }
    }
}

fn view_of(index: usize, camera: &Camera) -> Result<View, FieldError> {
    let (position, aim) = (DVec3::from(camera.position_mm), DVec3::from(camera.aim_mm));
    if DVec3::from(camera.up_ratio).length() < 1e-6 {
        let field = format!("cameras[{index}].up_ratio");
        let value = format!("{:?}", camera.up_ratio);
        return Err(FieldError::new(field, value, "a direction, not zero"));
    }
    let pose = Pose::look_at(position, aim, camera.up_ratio.into()).ok_or_else(|| {
        let allowed = "a point apart from position_mm, not straight along up_ratio from it";
        FieldError::new(format!("cameras[{index}].aim_mm"), format!("{:?}", camera.aim_mm), allowed)
    })?;
    let (width, height) = (f64::from(camera.width_px), f64::from(camera.height_px));
    let focal_px = width / (2.0 * maths::tan(radians(camera.horizontal_fov_deg) / 2.0));
    let middle = DVec2::new((width - 1.0) / 2.0, (height - 1.0) / 2.0);
    let lens = Lens {
        focal_px: DVec2::splat(focal_px),
        centre_px: middle + DVec2::from(camera.optical_centre_px),
        distortion: Distortion {
            k1: camera.radial_k1_ratio,
            k2: camera.radial_k2_ratio,
            k3: camera.radial_k3_ratio,
            p1: camera.tangential_p1_ratio,
            p2: camera.tangential_p2_ratio,
        },
    };
    // Where the lens is undone in the corners and at the rims it is everywhere.
    let rim = [0.0, 0.5, 1.0].map(|row| [0.0, 0.5, 1.0].map(|column| (column, row)));
    for (column, row) in rim.into_iter().flatten() {
        let pixel = DVec2::new(column * (width - 1.0), row * (height - 1.0));
        if lens.normalise(pixel).is_none() {
            let value = format!("{}, with the other distortion", camera.radial_k1_ratio);
            let allowed = "so that the distortion does not fold within the picture";
            let field = format!("cameras[{index}].radial_k1_ratio");
            return Err(FieldError::new(field, value, allowed));
        }
    }
    Ok(View { pose, lens })
}
