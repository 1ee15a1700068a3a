//! The command `camera`: a real camera measured from its pictures. The real camera is the
//! simulator's, whose lens, mount and sensor are known.

mod refused;

use std::path::Path;

use dryturn_geometry::{DVec2, DVec3};
use dryturn_metrology::mount::cube_corners;
use dryturn_optics::sensor::ReadOut;
use dryturn_scene::Scene;
use dryturn_scene::file::{
    Camera, Fixture, FixtureShape, FixtureUse, Mosaic, SceneFile, WhiteBalance,
};
use dryturn_units::noise::Seed;
use serde_json::Value as Json;

use crate::help;

/// Squares of the board, and their edge.
const SQUARES: [usize; 2] = [6, 5];
const PITCH_MM: f64 = 30.0;
/// Where its middle stands: before the rig, facing away from it.
const BOARD_MM: DVec3 = DVec3::new(0.0, 0.0, 600.0);

/// A flat board of dark and light blocks.
fn squares() -> Vec<Fixture> {
    let [columns, rows] = SQUARES;
    let square = |i: usize| {
        let (column, row) = (i % columns, i / columns);
        let aside = |k: usize, count: usize| (k as f64 - (count as f64 - 1.0) / 2.0) * PITCH_MM;
        let at = BOARD_MM + DVec3::new(aside(column, columns), aside(row, rows), 0.0);
        Fixture {
            name: format!("square-{i}"),
            role: FixtureUse::Panel,
            shape: FixtureShape::Block,
            position_mm: at.to_array(),
            size_mm: [PITCH_MM, PITCH_MM, 4.0],
            reflectance_share: if (column + row) % 2 == 0 { 0.04 } else { 0.7 },
            gloss_width_ratio: 1.0,
        }
    };
    (0..columns * rows).map(square).collect()
}

/// The lens that is to be found.
fn with_true_lens(camera: &mut Camera) {
    camera.horizontal_fov_deg = 40.0;
    camera.radial_k1_ratio = -0.2;
    camera.radial_k2_ratio = 0.06;
    camera.optical_centre_px = [9.0, -6.0];
}

/// Six cameras before the board, from six sides.
fn board_scene(shift_mm: f64) -> Scene {
    let scene = help::scene("workbench");
    let mut file: SceneFile = scene.file().clone();
    file.fixtures = squares();
    file.lamps[0].position_mm = [0.0, 300.0, 1300.0];
    file.surroundings.ambient_lux = 1000.0;
    let from = [
        [0.0, 20.0, 265.0],
        [-150.0, 30.0, 230.0],
        [160.0, -20.0, 230.0],
        [10.0, 150.0, 220.0],
        [-20.0, -150.0, 230.0],
        [120.0, 120.0, 220.0],
    ];
    let camera = file.cameras[0].clone();
    file.cameras = from
        .iter()
        .enumerate()
        .map(|(k, place)| {
            let mut camera = Camera { name: format!("view-{k}"), ..camera.clone() };
            // The board's middle goes round the picture.
            let side = [-1.0, 1.0, 0.0][k % 3] * shift_mm;
            let aim = BOARD_MM + DVec3::new(side, (k as f64 - 2.5) * 0.3 * shift_mm, 0.0);
            camera.position_mm = (BOARD_MM + DVec3::from(*place) * 1.25).to_array();
            camera.aim_mm = aim.to_array();
            camera.up_ratio = [0.2 * (k as f64 - 2.0), 1.0, 0.0].map(|v: f64| v.clamp(-1.0, 1.0));
            camera.white_balance = WhiteBalance::Fixed;
            camera.exposure_ms = 8.0;
            with_true_lens(&mut camera);
            camera
        })
        .collect();
    scene.with_file(file).unwrap()
}

/// The same scene with the lens as drawn: an ideal one of 36°.
fn drawn_scene() -> Scene {
    let scene = board_scene(20.0);
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        camera.horizontal_fov_deg = 36.0;
        (camera.radial_k1_ratio, camera.radial_k2_ratio) = (0.0, 0.0);
        camera.optical_centre_px = [0.0, 0.0];
    }
    scene.with_file(file).unwrap()
}

/// Twelve pictures of the board, made by the program itself.
fn photograph(folder: &Path) -> Vec<String> {
    let mut script = String::new();
    for (name, shift_mm) in [("near", 15.0), ("aside", -30.0)] {
        std::fs::write(folder.join(format!("{name}.ron")), board_scene(shift_mm).to_ron()).unwrap();
        script +=
            &format!("save_scan(build(scene(\"{name}.ron\")).scan(random_cube(0)), \"{name}\");\n");
    }
    std::fs::write(folder.join("photograph.rhai"), script).unwrap();
    let call =
        help::call(folder, &["rehearse", "--allow-none", "photograph.rhai", "--out", "pictures"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let names = ["near", "aside"].into_iter();
    names.flat_map(|n| (0..6).map(move |k| format!("pictures/{n}-view-{k}.png"))).collect()
}

fn document(call: &help::Call) -> Json {
    assert_eq!(call.code, 0, "{}", call.stderr);
    serde_json::from_str(&call.stdout).unwrap()
}

/// Angle of view, distortion and optical centre come back from the simulator's own
/// pictures: the angle within 0.1°, k1 within 0.02, the centre within 2 px, and each within
/// four of its standard errors (and what pixels of finite size bend).
#[test]
fn the_lens_comes_back_from_pictures_of_a_board() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let pictures = photograph(at);
    std::fs::write(at.join("drawn.ron"), drawn_scene().to_ron()).unwrap();
    let mut arguments = vec!["camera", "lens", "--scene", "drawn.ron", "--camera", "view-0"];
    arguments.extend(["--corners", "5x4", "--pitch-mm", "30", "--json", "--out", "lens"]);
    arguments.extend(pictures.iter().map(String::as_str));
    let call = help::call(at, &arguments);
    let found = document(&call);
    let number = |value: &Json| value.as_f64().unwrap();
    let fov = &found["horizontal_fov_deg"];
    let k1 = &found["found"]["k1"];
    let said = format!("{fov}, {k1}, {}, {}", found["optical_centre_px"], found["rms_px"]);
    assert!((number(&fov["value"]) - 40.0).abs() < 0.1, "{said}");
    assert!((number(&fov["value"]) - 40.0).abs() < 4.0 * number(&fov["error"]), "{said}");
    assert!((number(&k1["value"]) + 0.2).abs() < 0.02, "{said}");
    assert!((number(&k1["value"]) + 0.2).abs() < 4.0 * number(&k1["error"]), "{said}");
    let centre: Vec<f64> =
        found["optical_centre_px"].as_array().unwrap().iter().map(number).collect();
    assert!((centre[0] - 9.0).abs() < 2.0 && (centre[1] + 6.0).abs() < 2.0, "{said}");
    assert!(number(&found["rms_px"]) < 0.15, "{said}");
    // The block goes into the scene as it is.
    let block = std::fs::read_to_string(at.join("lens/camera.ron")).unwrap();
    assert_eq!(block, found["block"].as_str().unwrap());
    assert!(block.starts_with("// Lens measured from 240 corners in 12 pictures"), "{block}");
    let camera: Camera = ron_block(&block);
    let mut file = drawn_scene().file().clone();
    file.cameras[0] = camera;
    let scene = drawn_scene().with_file(file).unwrap();
    // With it, the board's corners are where the true camera has them.
    let truth = board_scene(20.0);
    for corner in [[-60.0, -45.0], [60.0, 45.0], [-60.0, 45.0], [0.0, 0.0]] {
        let world = BOARD_MM + DVec3::new(corner[0], corner[1], 2.0);
        let pixel = |scene: &Scene| scene.views()[0].project(world).unwrap();
        let off: DVec2 = pixel(&scene) - pixel(&truth);
        // The optical centre is sure to a pixel or so; a turn of the mount makes up for it.
        assert!(off.length() < 3.0, "{off}");
    }
    // The same in words.
    let words = arguments.into_iter().filter(|a| *a != "--json").collect::<Vec<_>>();
    let call = help::call(at, &words);
    assert!(call.stdout.starts_with("Lens measured from 240 corners"), "{}", call.stdout);
    assert!(call.stdout.contains("angle of view 40.0"), "{}", call.stdout);
}

/// Reads a block with its comments.
fn ron_block(text: &str) -> Camera {
    let scene = help::scene("workbench").to_ron();
    // The scene's reader is the judge: the block takes the first camera's place.
    let (before, rest) = scene.split_once("cameras: [").unwrap();
    let second = rest.find("name: \"low\"").unwrap();
    let second = rest[..second].rfind('(').unwrap();
    let whole = format!("{before}cameras: [\n{text},\n{}", &rest[second..]);
    let whole = whole.replace("GreyPatch,\n            white", "Fixed,\n            white");
    Scene::parse(&whole, "pasted.ron").unwrap_or_else(|e| panic!("{e}\n{whole}")).file().cameras[0]
        .clone()
}

/// The examples of the guide run as they stand there.
#[test]
fn the_guides_examples_run_as_written() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = help::scene("workbench");
    let guide = help::read("engine/front/cli/README.md");
    let examples: Vec<&str> =
        guide.lines().filter(|line| line.starts_with("dryturn camera ")).collect();
    assert_eq!(examples.len(), 3, "{examples:?}");
    // A board before the lens, clicks, and flats.
    std::fs::create_dir(at.join("board")).unwrap();
    for (number, picture) in photograph(at).iter().enumerate() {
        std::fs::rename(at.join(picture), at.join(format!("board/{number}.png"))).unwrap();
    }
    let mut clicks = String::from("point,column_px,row_px\n");
    for (name, corner) in cube_corners(56.0).filter(|(name, _)| *name != "DBL") {
        let pixel = scene.views()[0].project(corner).unwrap();
        clicks += &format!("{name},{:.1},{:.1}\n", pixel.x, pixel.y);
    }
    std::fs::write(at.join("clicks.csv"), clicks).unwrap();
    std::fs::create_dir(at.join("flats")).unwrap();
    raw_pictures(&at.join("flats"));
    let mut mosaic_off = scene.file().clone();
    mosaic_off.cameras[0].mosaic = Mosaic::None;
    std::fs::write(at.join("rig.ron"), scene.with_file(mosaic_off).unwrap().to_ron()).unwrap();
    for example in examples {
        let line = example.replacen("dryturn", "\"$DRYTURN\"", 1);
        let done = std::process::Command::new("sh")
            .args(["-c", &line])
            .env("DRYTURN", help::program().get_program())
            .current_dir(at)
            .output()
            .unwrap();
        let (said, fault) =
            (String::from_utf8_lossy(&done.stdout), String::from_utf8_lossy(&done.stderr));
        assert!(done.status.success(), "{example}: {fault}");
        assert!(said.contains("The camera's block for the scene file"), "{example}: {said}");
    }
}

/// Clicked corners of a camera that is 3.7 mm and 2.4° off: found within four standard
/// errors with clicks 0.5 px off, and put into the scene.
#[test]
fn the_mount_comes_back_from_clicked_corners() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = help::scene("workbench");
    std::fs::write(at.join("w.ron"), help::read("scenes/workbench.ron")).unwrap();
    let drawn = scene.views()[0];
    let (shift, turn_deg) = (DVec3::new(2.0, -1.0, 3.0), DVec3::new(1.0, 2.0, -1.0));
    let mut view = drawn;
    view.pose = drawn.pose.disturbed(shift, turn_deg * core::f64::consts::PI / 180.0);
    let mut noise = Seed::new(4).stream("clicks", 0, 0);
    let mut csv = String::from("point,column_px,row_px\n");
    for (name, corner) in cube_corners(56.0).filter(|(name, _)| *name != "DBL") {
        let pixel = view.project(corner).unwrap();
        let (column, row) = (pixel.x + 0.5 * noise.gaussian(), pixel.y + 0.5 * noise.gaussian());
        csv += &format!("{name},{column:.2},{row:.2}\n");
    }
    std::fs::write(at.join("clicks.csv"), &csv).unwrap();
    let arguments =
        ["camera", "mount", "--scene", "w.ron", "--camera", "high", "--click-px", "0.5"];
    let call = help::call(at, &[&arguments[..], &["clicks.csv", "--json", "--out", "m"]].concat());
    let found = document(&call);
    let figures = |key: &str| -> Vec<f64> {
        found[key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
    };
    for k in 0..3 {
        let off = (figures("shift_mm")[k] - shift[k]).abs();
        let error = figures("shift_error_mm")[k];
        assert!(off < 4.0 * error && error < 1.0, "{found}");
        let off = (figures("turn_camera_deg")[k] - turn_deg[k]).abs();
        let error = figures("turn_camera_error_deg")[k];
        assert!(off < 4.0 * error && error < 0.5, "{found}");
    }
    let camera = ron_block(&std::fs::read_to_string(at.join("m/camera.ron")).unwrap());
    let place = DVec3::from(camera.position_mm);
    assert!(
        (place - drawn.pose.position).length() > 2.0 && (place - view.pose.position).length() < 2.0
    );
    // A point that is wrong is named.
    let wrong = csv.replacen("\nUFL,1", "\nUFL,2", 1);
    std::fs::write(at.join("clicks.csv"), wrong).unwrap();
    let call = help::call(at, &[&arguments[..], &["clicks.csv"]].concat());
    assert_eq!(call.code, 1, "{}", call.stderr);
    assert!(call.stderr.contains("without UFL"), "{}", call.stderr);
    assert!(call.stderr.contains("objection: the clicks do not fit"), "{}", call.stderr);
    // Nothing looks like a camera's block.
    assert!(!call.stdout.contains("position_mm") && !call.stdout.contains("block"));
    let call =
        help::call(at, &[&arguments[..], &["clicks.csv", "--json", "--out", "bad"]].concat());
    let found: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    assert!(call.code == 1 && found["block"].is_null(), "{found}");
    assert!(found["objection"].as_str().unwrap().contains("at most 8.0 px"), "{found}");
    assert!(at.join("bad/camera.json").exists() && !at.join("bad/camera.ron").exists());
}

/// Raw pictures of a sensor of 9000 electrons, 12 bits and 6 electrons of dark noise.
fn raw_pictures(folder: &Path) -> Camera {
    let mut camera = help::scene("workbench").file().cameras[0].clone();
    (camera.mosaic, camera.full_well_e, camera.read_noise_e) = (Mosaic::None, 9000.0, 6.0);
    camera.black_level_share = 100.0 / 4095.0;
    let read_out = ReadOut::of(&camera);
    let mut list = String::from("light_ratio,first,second\n");
    for level in 0..12u32 {
        let mut names = Vec::new();
        for which in 0..2u32 {
            let index = u64::from(2 * level + which);
            let mut noise = Seed::new(8).stream("flats", 0, index);
            let mean_e = 800.0 * f64::from(level);
            let codes = (0..128 * 96).map(|_| read_out.draw(mean_e, &mut noise) as u16).collect();
            let name = format!("flat-{level}-{which}.png");
            let picture =
                image::ImageBuffer::<image::Luma<u16>, Vec<u16>>::from_raw(128, 96, codes);
            picture.unwrap().save(folder.join(&name)).unwrap();
            names.push(name);
        }
        list += &format!("{},{}\n", 2 * level, names.join(","));
    }
    std::fs::write(folder.join("pairs.csv"), list).unwrap();
    let mut file = help::scene("workbench").file().clone();
    file.cameras[0].mosaic = Mosaic::None;
    let scene = help::scene("workbench").with_file(file).unwrap();
    std::fs::write(folder.join("w.ron"), scene.to_ron()).unwrap();
    camera
}

#[test]
fn the_sensor_comes_back_from_flat_pictures() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let camera = raw_pictures(at);
    let arguments = ["camera", "sensor", "--scene", "w.ron", "--camera", "high", "--bits", "12"];
    let call = help::call(at, &[&arguments[..], &["pairs.csv", "--json", "--out", "s"]].concat());
    let found = document(&call);
    let near = |key: &str, wanted: f64| {
        let (value, error) = (&found[key]["value"], &found[key]["error"]);
        let (value, error) = (value.as_f64().unwrap(), error.as_f64().unwrap());
        assert!((value - wanted).abs() < 4.0 * error, "{key}: {value} ± {error}, not {wanted}");
        assert!(error < 0.02 * wanted, "{key}: {value} ± {error}");
    };
    near("codes_per_e", ReadOut::of(&camera).codes_per_e);
    near("read_noise_e", 6.0);
    let full = found["full_well_e"].as_f64().unwrap();
    assert!((full / 9000.0 - 1.0).abs() < 0.01 && found["saturation_seen"] == true, "{found}");
    assert!(found["linearity_share"][0].as_f64().unwrap() < 0.005);
    let block = ron_block(&std::fs::read_to_string(at.join("s/camera.ron")).unwrap());
    assert_eq!((block.converter_bits, block.gain_ratio), (12, 1.0));
    assert!((block.black_level_share - camera.black_level_share).abs() < 1e-4);
}
