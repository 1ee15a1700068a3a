//! What a reading finds out besides the cube: mounts, light, how the cube is held.

use std::sync::Arc;

use dryturn_cube::{Face, Facelet, MOUNTINGS, Stickering};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_handoff::{CameraFound, Frame, Outcome};
use dryturn_rehearsal::{BuiltRig, Rehearser};
use dryturn_scene::{Scene, View};
use dryturn_units::noise::Seed;
use dryturn_units::radians;
use serde_json::json;

use crate::help;

/// A scene with small pictures and the changes given.
fn small(name: &str, changes: &[(&str, serde_json::Value)]) -> Arc<Scene> {
    let scene = help::scene(name);
    let mut file = scene.file().clone();
    help::with_small_pictures(&mut file);
    let scene = scene.with_file(file).unwrap();
    let change = |scene: Scene, (path, value): &(&str, serde_json::Value)| {
        scene.with(path, value.clone()).unwrap()
    };
    Arc::new(changes.iter().fold(scene, change))
}

fn rig(scene: &Arc<Scene>, trial: u64) -> BuiltRig {
    Rehearser::new(Seed::new(3)).build(scene, trial)
}

fn frames(rig: &BuiltRig, shown: &Stickering) -> Vec<Frame> {
    rig.scan(shown).frames
}

/// The pose that a reading found.
fn found_pose(view: &View, found: &CameraFound) -> dryturn_geometry::Pose {
    let turn = DVec3::from_array(found.turn_deg.map(radians));
    view.pose.disturbed(view.pose.direction_to_world(DVec3::from_array(found.shift_mm)), turn)
}

/// Cameras that stand elsewhere than drawn, by a known shift, are found: the cube's corners
/// lie within a pixel of where they are in the picture.
#[test]
fn a_camera_that_stands_elsewhere_is_found() {
    let exact = [
        ("tolerances.mount_shift_sigma_mm", json!(0.0)),
        ("tolerances.mount_turn_sigma_deg", json!(0.0)),
    ];
    let drawn = small("workbench", &exact);
    let mut file = drawn.file().clone();
    for (camera, by) in file.cameras.iter_mut().zip([[3.0, -1.0, -2.0], [-1.0, 2.5, 2.0]]) {
        (0..3).for_each(|k| camera.position_mm[k] += by[k]);
        // It looks past the cube's middle besides.
        camera.aim_mm = [1.0, -1.5, 0.5];
    }
    let real = Arc::new(drawn.with_file(file).unwrap());
    let here = rig(&drawn, 0);
    let calibration = here.calibrate().unwrap();
    let rehearser = Rehearser::new(Seed::new(3));
    for trial in 0..4 {
        let truth = rehearser.random_cube(trial);
        let frames = frames(&here.moved_to(&real), &Stickering::from(&truth));
        let reading = rehearser.read(&here, &calibration, &frames).unwrap();
        assert_eq!(reading.state(), Some(&truth));
        let views = drawn.views().iter().zip(real.views());
        for ((view, real), found) in views.zip(&reading.cameras) {
            let pose = found_pose(view, found);
            for corner in 0..8 {
                let sign = |k: u32| f64::from(corner >> k & 1) * 2.0 - 1.0;
                let corner = DVec3::new(sign(0), sign(1), sign(2)) * 28.0;
                let pixel = |pose: &dryturn_geometry::Pose| -> DVec2 {
                    view.lens.project(pose.to_camera(corner)).unwrap()
                };
                let (found, wanted, was) = (pixel(&pose), pixel(&real.pose), pixel(&view.pose));
                assert!(found.distance(wanted) < 0.8, "{found} {wanted}");
                assert!(was.distance(wanted) > 1.5, "the drawing is off: {was} {wanted}");
            }
        }
    }
}

/// Whoever believes the drawing reports no shift.
#[test]
fn the_drawing_can_be_believed() {
    let scene = small("workbench", &[("reader.find_mounts", json!(false))]);
    let rig = rig(&scene, 1);
    let calibration = rig.calibrate().unwrap();
    let rehearser = Rehearser::new(Seed::new(3));
    let truth = rehearser.random_cube(1);
    let reading =
        rehearser.read(&rig, &calibration, &frames(&rig, &Stickering::from(&truth))).unwrap();
    assert_eq!(reading.state(), Some(&truth));
    assert!(reading.cameras.iter().all(|c| c.shift_mm == [0.0; 3] && c.turn_deg == [0.0; 3]));
}

/// With a grey patch in view the change of the light is known beforehand: all channels at a
/// third, and blue at a third of that.
#[test]
fn a_grey_patch_tells_how_the_light_has_changed() {
    let mut file = small("workbench", &[]).file().clone();
    let mut patch = file.fixtures[0].clone();
    patch.name = "patch".to_owned();
    patch.role = dryturn_scene::file::FixtureUse::GreyPatch;
    patch.reflectance_share = 0.4;
    (patch.position_mm, patch.size_mm) = ([45.0, 45.0, -45.0], [14.0, 14.0, 14.0]);
    file.fixtures.push(patch.clone());
    patch.name = "patch-below".to_owned();
    patch.position_mm = [-45.0, -45.0, 45.0];
    file.fixtures.push(patch);
    let scene = Arc::new(small("workbench", &[]).with_file(file.clone()).unwrap());
    let here = rig(&scene, 0);
    let calibration = here.calibrate().unwrap();
    let rehearser = Rehearser::new(Seed::new(3));
    file.cameras.iter_mut().for_each(|camera| camera.exposure_ms /= 3.0);
    let darker = Arc::new(scene.with_file(file).unwrap());
    for trial in 0..3 {
        let truth = rehearser.random_cube(trial);
        let frames = frames(&here.moved_to(&darker), &Stickering::from(&truth));
        let reading = rehearser.read(&here, &calibration, &frames).unwrap();
        assert_eq!(reading.state(), Some(&truth));
        for found in &reading.cameras {
            for ratio in found.light_ratio {
                assert!((ratio - 1.0 / 3.0).abs() < 0.03, "{ratio}");
            }
        }
    }
}

/// A cube held in the rig another way round, with nothing over its centres.
#[test]
fn how_the_cube_is_mounted_is_read_too() {
    let bare: Vec<(String, serde_json::Value)> =
        Face::ALL.iter().map(|f| (format!("shafts.{f}.fitted"), json!(false))).collect();
    let mut changes: Vec<(&str, serde_json::Value)> =
        bare.iter().map(|(path, value)| (path.as_str(), value.clone())).collect();
    changes.push(("reader.mounting_known", json!(false)));
    let scene = small("workbench", &changes);
    let here = rig(&scene, 0);
    let calibration = here.calibrate().unwrap();
    let rehearser = Rehearser::new(Seed::new(3));
    for mounting in MOUNTINGS {
        let shown = Stickering::solved_in(mounting);
        let reading = rehearser.read(&here, &calibration, &frames(&here, &shown)).unwrap();
        let colours = shown.colours();
        let centres = Face::ALL.map(|face| colours[Facelet::new(face, 1, 1).index()]);
        assert_eq!(reading.centres, centres);
        assert_eq!(reading.state(), Some(&dryturn_cube::CubeState::SOLVED));
        let read = Facelet::all().filter_map(|f| reading.colour(f)).collect::<Vec<_>>();
        assert_eq!(read, colours);
    }
    // With the couplers on, twelve mountings fit alike, and nobody guesses.
    let covered = small("workbench", &[("reader.mounting_known", json!(false))]);
    let here = rig(&covered, 0);
    let calibration = here.calibrate().unwrap();
    let shown = Stickering::solved_in(MOUNTINGS[2]);
    let reading = rehearser.read(&here, &calibration, &frames(&here, &shown)).unwrap();
    assert!(matches!(reading.outcome, Outcome::Unreadable { .. }), "{:?}", reading.outcome);
}

/// Many noisy scans of one cube say more than one of them.
#[test]
fn several_scans_say_more_than_one() {
    let dim = small("foyer_morning", &[]);
    let mut file = dim.file().clone();
    for camera in &mut file.cameras {
        (camera.exposure_ms, camera.gain_ratio) = (0.05, 64.0);
    }
    let dim = Arc::new(dim.with_file(file).unwrap());
    let rehearser = Rehearser::new(Seed::new(3));
    let (mut once, mut together) = (0.0, 0.0);
    for trial in 0..3 {
        let here = rig(&dim, trial);
        let calibration = here.calibrate().unwrap();
        let truth = rehearser.random_cube(trial);
        let shown = Stickering::from(&truth);
        let sets: Vec<Frame> = (0..6).flat_map(|_| frames(&here, &shown)).collect();
        let odds = |frames: &[Frame]| {
            let reading = rehearser.read(&here, &calibration, frames).unwrap();
            let right = reading.most_probable == Some(truth);
            let log_odds = reading.runner_up.unwrap().log_odds;
            if right { log_odds } else { -log_odds }
        };
        once += odds(&sets[..2]);
        together += odds(&sets);
    }
    assert!(together > once, "{together} against {once}");
}
