//! The scene's camera with what was measured, as text for pasting into the scene file.

use dryturn_scene::file::Camera;

use crate::lens::{LensFit, Unknown};
use crate::mount::MountFit;
use crate::sensor::SensorFit;

fn rounded(value: f64, decimals: u32) -> f64 {
    let factor = (0..decimals).fold(1.0, |factor, _| factor * 10.0);
    // Adding zero turns −0 into 0.
    (value * factor).round() / factor + 0.0
}

/// A camera with what was found of its lens.
#[must_use]
pub fn with_lens(camera: &Camera, fit: &LensFit) -> Camera {
    let of = |unknown: Unknown| rounded(unknown.of(&fit.lens), 7);
    Camera {
        horizontal_fov_deg: rounded(fit.fov_deg.0, 5),
        optical_centre_px: fit.centre_off_px.to_array().map(|v| rounded(v, 3)),
        radial_k1_ratio: of(Unknown::K1),
        radial_k2_ratio: of(Unknown::K2),
        radial_k3_ratio: of(Unknown::K3),
        tangential_p1_ratio: of(Unknown::P1),
        tangential_p2_ratio: of(Unknown::P2),
        ..camera.clone()
    }
}

/// A camera where it really stands.
#[must_use]
pub fn with_mount(camera: &Camera, fit: &MountFit) -> Camera {
    Camera {
        position_mm: fit.pose.position.to_array().map(|v| rounded(v, 3)),
        aim_mm: fit.aim_mm.to_array().map(|v| rounded(v, 3)),
        up_ratio: fit.up_ratio.to_array().map(|v| rounded(v, 6)),
        ..camera.clone()
    }
}

/// A camera with what was found of its sensor.
#[must_use]
pub fn with_sensor(camera: &Camera, fit: &SensorFit) -> Camera {
    Camera {
        full_well_e: rounded(fit.full_well_e, 1),
        gain_ratio: rounded(fit.gain_ratio, 4),
        read_noise_e: fit.dark_noise_e.map_or(camera.read_noise_e, |(value, _)| rounded(value, 3)),
        converter_bits: fit.bits,
        black_level_share: rounded(fit.black_level_share, 6),
        shot_noise: true,
        ..camera.clone()
    }
}

/// The block as RON, with `notes` as comment lines above it. Fields at their default are
/// left out.
#[must_use]
pub fn written(camera: &Camera, notes: &[String]) -> String {
    let pretty = ron::ser::PrettyConfig::default().depth_limit(1);
    let text = ron::ser::to_string_pretty(camera, pretty).unwrap_or_default();
    let defaults = Camera::fields();
    let bare = |text: &str| text.replace(' ', "");
    let kept = text.lines().filter(|line| {
        let Some((name, value)) = line.trim().trim_end_matches(',').split_once(": ") else {
            return true;
        };
        !defaults.iter().any(|doc| doc.name == name && bare(&doc.default) == bare(value))
    });
    let comments = notes.iter().map(|note| format!("// {note}\n"));
    comments.chain(kept.map(|line| format!("{line}\n"))).collect()
}

#[cfg(test)]
mod tests {
    use dryturn_scene::Scene;

    use super::*;

    #[test]
    fn what_is_written_is_read_back_the_same() {
        let text = include_str!("../../../../scenes/workbench.ron");
        let scene = Scene::parse(text, "workbench.ron").unwrap();
        let mut file = scene.file().clone();
        file.cameras[0].optical_centre_px = [3.5, -0.25];
        file.cameras[0].up_ratio = [0.1, 0.9, 0.0];
        for camera in &file.cameras {
            let written = written(camera, &["a note".to_owned()]);
            assert!(written.starts_with("// a note\n(\n    name: "), "{written}");
            assert!(!written.contains("samples_px"), "{written}");
            let again: Camera = ron::from_str(&written).unwrap();
            assert_eq!(&again, camera);
        }
        assert!(rounded(-1e-9, 3).is_sign_positive());
    }
}
