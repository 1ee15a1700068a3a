//! What commands take at most of memory where pictures are large: each camera's view is traced,
//! used and dropped before the next.

use std::path::Path;

use crate::help;
use crate::measured::measured;

/// Two cameras of 3 megapixels, so near that the cube fills their pictures, under one lamp: each
/// pixel is lit, as the most that a scene may have.
fn near(folder: &Path) {
    let scene = help::scene("workbench");
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        *camera = camera.with_pixels([2000, 1500]);
        (camera.samples_px, camera.horizontal_fov_deg) = (1, 14.0);
    }
    let near = scene.with_file(file).unwrap();
    std::fs::write(folder.join("near.ron"), near.to_ron()).unwrap();
}

/// Millions of bytes that a call has had resident at the most.
fn peak_mb(folder: &Path, arguments: &[&str]) -> f64 {
    let mut command = help::program();
    command.current_dir(folder).args(["--threads", "2"]).args(arguments);
    let end = measured(command);
    assert_eq!(end.code, Some(0), "{arguments:?}: {}", end.stderr);
    end.peak_kb as f64 * 1024e-6
}

/// With the views of both cameras in memory, or all that a developed picture goes through, it
/// would be 320 to 390 MB. (Measured: 212, 255 and 237.)
#[cfg(target_os = "linux")]
#[test]
fn large_pictures_take_little_memory() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    near(at);
    std::fs::write(at.join("s.rhai"), "build(scene(\"near.ron\")).scan(solved());").unwrap();
    for (arguments, most_mb) in [
        (&["survey", "near.ron", "--draws", "1", "--out", "survey"][..], 290.0),
        (&["frames", "near.ron", "--scans", "1", "--out", "set"], 285.0),
        (&["rehearse", "--allow-none", "s.rhai"], 280.0),
    ] {
        let peak_mb = peak_mb(at, arguments);
        assert!(peak_mb > 20.0 && peak_mb < most_mb, "{arguments:?}: {peak_mb:.0} MB");
    }
}
