//! Every scene loads, and its reference is up to date.

use dryturn_cube::Face;
use dryturn_geometry::DVec3;
use dryturn_reading::Patches;
use dryturn_scene::{Rig, Scene, field_reference};

use crate::help;

#[test]
fn every_scene_loads_and_survives_a_round_trip() {
    let files = help::files("scenes", "ron");
    assert!(files.len() >= 3);
    for file in files {
        let name = file.display().to_string();
        let scene = Scene::parse(&std::fs::read_to_string(&file).unwrap(), &name).unwrap();
        let again = Scene::parse(&scene.to_ron(), &name).unwrap();
        assert_eq!(scene.file(), again.file());
    }
}

#[test]
fn field_reference_is_up_to_date() {
    help::golden("scenes/README.md", &field_reference());
}

/// A number's name ends in its unit (in the last part of a compound one: `n_m_s`).
#[test]
fn every_number_has_its_unit_in_its_name() {
    // Counts are called what they count.
    const UNITS: [&str; 34] = [
        "mm", "deg", "px", "ms", "us", "um", "e", "ratio", "share", "percent", "bits", "hz", "lm",
        "k", "lux", "v", "ohm", "m2", "m", "s", "s2", "s3", "rad", "turn", "mh", "uf", "a", "c",
        "mpa", "gpa", "g", "samples", "resends", "nodes",
    ];
    for line in field_reference().lines().filter(|l| l.starts_with("| `")) {
        let name = line.split('`').nth(1).unwrap();
        let allowed = line.split('|').nth(3).unwrap().trim();
        if allowed.starts_with(|c: char| c.is_ascii_digit() || c == '-')
            || allowed.starts_with("three numbers")
        {
            if name == "version" {
                continue;
            }
            let unit = name.rsplit('_').next().unwrap();
            assert!(UNITS.contains(&unit), "{name} does not end in a unit");
        }
    }
}

/// The cameras stand at two opposite corners, one high and one low, and each
/// reads three faces; the couplers and rods hide six facelets, all on corners
/// (design targets, assumed).
#[test]
fn two_cameras_see_six_faces_and_shafts_hide_six_corners() {
    for name in ["foyer_morning", "foyer_evening", "workbench"] {
        let scene = help::scene(name);
        let position = |i: usize| DVec3::from(scene.file().cameras[i].position_mm).normalize();
        assert!(position(0).dot(position(1)) < -0.99, "{name}: opposite corners");
        assert!(position(0).y > 0.4 && position(1).y < -0.4, "{name}: one high, one low");
        let patches = Patches::of(&scene);
        for camera in 0..2 {
            let faces: std::collections::BTreeSet<Face> = Rig::facelets_to_read()
                .filter(|f| patches.camera_of(*f) == Some(camera))
                .map(|f| f.face())
                .collect();
            assert_eq!(faces.len(), 3, "{name}, camera {camera}");
        }
        let hidden = patches.hidden();
        assert_eq!(hidden.len(), 6, "{name}: {hidden:?}");
        assert!(hidden.iter().all(|f| f.kind() == dryturn_cube::FaceletKind::Corner));
    }
}
