//! Reading follows the pixels; nothing is canned.

use std::sync::Arc;

use dryturn_cube::{CubeState, Facelet, Stickering};
use dryturn_handoff::Frame;
use dryturn_reading::{Patches, read};
use dryturn_rehearsal::{Rehearser, Score, Verdict};
use dryturn_scene::{Scene, Surface};
use dryturn_units::noise::Seed;
use serde_json::json;

use crate::help;

/// Pictures of scramble A handed on as scramble B: the reading says A.
#[test]
fn reading_follows_the_pixels_not_the_label() {
    let scene = help::scene("foyer_morning");
    let rehearser = Rehearser::new(Seed::new(11));
    let rig = rehearser.build(&scene, 0);
    let calibration = rig.calibrate().unwrap();
    let (a, b) = (rehearser.random_cube(1), rehearser.random_cube(2));
    assert_ne!(a, b);
    let painted = rig.scan(&Stickering::from(&a));
    let reading = rehearser.read(&rig, &calibration, &painted.frames).unwrap();
    assert_eq!(reading.state(), Some(&a));
    assert!(!Score::of(&reading, &b).right(), "scored against B it must be wrong");
}

/// One facelet repainted in the frame, nothing else touched: the reading sees it.
#[test]
fn repainted_pixels_change_the_reading() {
    // By the plain reader, which takes every facelet as it is.
    let scene = help::scene("workbench").with("reader.method", json!("Nearest")).unwrap();
    let scene = Arc::new(scene);
    let rehearser = Rehearser::new(Seed::new(12));
    let rig = rehearser.build(&scene, 0);
    let calibration = rig.calibrate().unwrap();
    let mut scan = rig.scan(&Stickering::from(&CubeState::SOLVED));
    let facelet = Facelet::from_name("URF").unwrap();
    let wanted = calibration.references_at(facelet)[dryturn_cube::Face::D.index()];
    for (pixel, &code) in scan.labels[0].codes.iter().enumerate() {
        if usize::from(code) == facelet.index() {
            scan.frames[0].pixels[3 * pixel..3 * pixel + 3].copy_from_slice(&wanted.0);
        }
    }
    let reading = rehearser.read(&rig, &calibration, &scan.frames).unwrap();
    assert_eq!(reading.colour(facelet), Some(dryturn_cube::Face::D));
    assert_eq!(reading.state(), None, "ten of one colour are no cube");
}

/// What lamps give when a cube is scanned shows in its pictures alone: whatever the scene that they
/// are read with says of its lamps, the reading is the same.
#[test]
fn what_lamps_give_now_is_told_by_pictures_alone() {
    let mut file = help::scene("foyer_morning").file().clone();
    help::with_small_pictures(&mut file);
    let drawn = Arc::new(help::scene("foyer_morning").with_file(file).unwrap());
    let off = Arc::new(drawn.with("lamps.lower.flux_lm", json!(0.0)).unwrap());
    let brighter = drawn.with("lamps.upper.flux_lm", json!(5000.0)).unwrap();
    let rehearser = Rehearser::new(Seed::new(14));
    let rig = rehearser.build(&drawn, 0);
    let calibration = rig.calibrate().unwrap();
    let frames = rig.moved_to(&off).scan(&Stickering::from(&rehearser.random_cube(0))).frames;
    let told = [&*drawn, &*off, &brighter]
        .map(|scene| format!("{:?}", read(&Patches::of(scene), &calibration, &frames).unwrap()));
    assert_eq!(told[0], told[1]);
    assert_eq!(told[0], told[2]);
}

/// `read` on pictures written earlier gives what was read in memory.
#[test]
fn pictures_from_disk_read_as_in_memory() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("foyer.ron"), help::read("scenes/foyer_morning.ron")).unwrap();
    let script = r#"
        let rig = build(scene("foyer.ron"));
        let calibration = calibrate(rig);
        let scan = scan(rig, random_cube(7));
        save_scan(scan, "seven");
        save_calibration(calibration, "morning.ron");
        save_text("read.txt", read(rig, calibration, scan).cube.faces);
    "#;
    std::fs::write(at.join("seven.rhai"), script).unwrap();
    let call = help::call(at, &["rehearse", "--allow-none", "seven.rhai", "--out", "out"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let arguments = [
        "read",
        "--json",
        "--scene",
        "foyer.ron",
        "--calibration",
        "out/morning.ron",
        "out/seven-high.png",
        "out/seven-low.png",
    ];
    let call = help::call(at, &arguments);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    let in_memory = std::fs::read_to_string(at.join("out/read.txt")).unwrap();
    assert_eq!(document["faces"].as_str().unwrap(), in_memory);
    // The same pictures swapped are another cube, or none.
    let swapped = [&arguments[..6], &["out/seven-low.png", "out/seven-high.png"]].concat();
    assert_ne!(help::call(at, &swapped).stdout, call.stdout);
}

/// A rehearsal on pictures of solved cubes from disk: all six mountings, then a
/// scan, as a builder with real cameras would do it.
#[test]
fn solved_pictures_from_disk_calibrate() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = help::scene("foyer_morning");
    std::fs::write(at.join("foyer.ron"), help::read("scenes/foyer_morning.ron")).unwrap();
    let rehearser = Rehearser::new(Seed::new(3));
    let rig = rehearser.build(&scene, 0);
    let write = |frame: &Frame, name: &str| {
        std::fs::write(at.join(name), dryturn_report::encode(frame).unwrap()).unwrap();
    };
    let mut arguments =
        vec!["read".to_owned(), "--json".into(), "--scene".into(), "foyer.ron".into()];
    for (i, scan) in rig.scan_solved().enumerate() {
        for frame in &scan.frames {
            let name = format!("solved-{i}-{}.png", frame.camera);
            write(frame, &name);
            arguments.extend(["--solved".to_owned(), name]);
        }
    }
    let truth = rehearser.random_cube(0);
    for frame in &rig.scan(&Stickering::from(&truth)).frames {
        let name = format!("{}.png", frame.camera);
        write(frame, &name);
        arguments.push(name);
    }
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let call = help::call(at, &arguments);
    assert_eq!(call.code, 0, "{}\n{}", call.stdout, call.stderr);
    let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    let faces = dryturn_cube::net::write_faces(&truth.colours());
    assert_eq!(document["faces"].as_str().unwrap(), faces);
}

fn frames_and_reading(scene: &Arc<Scene>) -> (Vec<Frame>, usize, bool) {
    let rehearser = Rehearser::new(Seed::new(1));
    let rig = rehearser.build(scene, 0);
    let calibration = rig.calibrate().unwrap();
    let pass = rehearser.rehearse(&rig, &calibration, &rehearser.random_cube(0)).unwrap();
    let inferred = pass
        .reading
        .facelets
        .iter()
        .filter(|f| f.source == dryturn_handoff::Source::Inferred)
        .count();
    (pass.scan.frames, inferred, pass.score.right())
}

/// A cube of coloured plastic, without stickers, is read as well.
#[test]
fn a_cube_without_stickers_is_read() {
    let scene = help::scene("foyer_morning");
    let coloured = Arc::new(scene.with("cube.body", json!("Coloured")).unwrap());
    let (stickered, _, _) = frames_and_reading(&scene);
    let (plain, inferred, right) = frames_and_reading(&coloured);
    assert!(right && inferred == 6);
    assert_ne!(stickered, plain);
}

/// Pictures that went through JPEG, as many cameras write them, are read right.
#[test]
fn jpeg_pictures_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("foyer.ron"), help::read("scenes/foyer_morning.ron")).unwrap();
    let rehearser = Rehearser::new(Seed::new(1));
    let rig = rehearser.build(&help::scene("foyer_morning"), 0);
    let truth = rehearser.random_cube(4);
    for frame in &rig.scan(&Stickering::from(&truth)).frames {
        let mut bytes = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 85)
            .encode(
                &frame.pixels,
                frame.width as u32,
                frame.height as u32,
                image::ExtendedColorType::Rgb8,
            )
            .unwrap();
        std::fs::write(at.join(format!("{}.jpg", frame.camera)), bytes).unwrap();
    }
    let call = help::call(at, &["read", "--json", "--scene", "foyer.ron", "high.jpg", "low.jpg"]);
    assert_eq!(call.code, 0, "{}\n{}", call.stdout, call.stderr);
    let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    let faces = dryturn_cube::net::write_faces(&truth.colours());
    assert_eq!(document["faces"].as_str().unwrap(), faces);
}

/// Two shafts less in view: other frames, and two facelets less to infer. A lamp
/// off: other frames again.
#[test]
fn shafts_and_lamps_change_frames_and_readings() {
    let scene = help::scene("foyer_morning");
    let (frames, inferred, right) = frames_and_reading(&scene);
    assert!(right && inferred == 6);
    let fewer = ["U", "L"].iter().fold(scene.clone(), |scene, face| {
        Arc::new(scene.with(&format!("shafts.{face}.fitted"), json!(false)).unwrap())
    });
    let (other_frames, inferred, right) = frames_and_reading(&fewer);
    assert!(right);
    assert_eq!(inferred, 4);
    assert_ne!(frames, other_frames);
    let dark = Arc::new(scene.with("lamps.lower.flux_lm", json!(0)).unwrap());
    let (dark_frames, _, _) = frames_and_reading(&dark);
    assert_ne!(frames[1], dark_frames[1], "the lower lamp lights the low camera's view");
    let mean = |frame: &Frame| {
        frame.pixels.iter().map(|&v| u64::from(v)).sum::<u64>() / frame.pixels.len() as u64
    };
    assert!(mean(&dark_frames[1]) < mean(&frames[1]));
}

/// A second scan of the same cube on the same rig shows the same surfaces under
/// other noise.
#[test]
fn each_scan_has_its_own_noise() {
    let rig = Rehearser::new(Seed::new(1)).build(&help::scene("workbench"), 0);
    let solved = Stickering::from(&CubeState::SOLVED);
    let (first, second) = (rig.scan(&solved), rig.scan(&solved));
    for (first, second) in first.labels.iter().zip(&second.labels) {
        assert_eq!((&first.codes, &first.depth_mm), (&second.codes, &second.depth_mm));
    }
    assert_ne!(first.frames, second.frames);
}

/// Without any light there is nothing to read, and the outcome says so.
#[test]
fn darkness_is_unreadable() {
    let scene = help::scene("workbench");
    let dark = scene.with("lamps.panel.flux_lm", json!(0)).unwrap();
    let dark = Arc::new(dark.with("surroundings.ambient_lux", json!(0)).unwrap());
    let rehearser = Rehearser::new(Seed::new(1));
    let lit = rehearser.build(&scene, 0);
    let calibration = lit.calibrate().unwrap();
    let rig = lit.moved_to(&dark);
    let pass = rehearser.rehearse(&rig, &calibration, &rehearser.random_cube(0)).unwrap();
    assert_eq!(pass.verdict, Verdict::Unreadable);
    let dryturn_handoff::Outcome::Unreadable { because, weakest, .. } = &pass.reading.outcome
    else {
        panic!("darkness was read");
    };
    assert!(because.contains("as dark as the cameras show"), "{because}");
    assert!(!weakest.is_empty());
    assert_eq!((&pass.plan, &pass.run), (&None, &None), "nothing is turned");
}

/// Labels name every kind of surface, and the facelets that each camera sees.
#[test]
fn labels_name_every_surface() {
    let scene = help::scene("foyer_morning");
    let rig = Rehearser::new(Seed::new(1)).build(&scene, 0);
    let scan = rig.scan(&Stickering::from(&CubeState::SOLVED));
    for labels in &scan.labels {
        let codes: std::collections::BTreeSet<u8> = labels.codes.iter().copied().collect();
        let parts = [Surface::Body, Surface::Shaft, Surface::Bracket, Surface::Background];
        assert!(parts.iter().all(|part| codes.contains(&part.code())), "{codes:?}");
        assert!(codes.iter().filter(|&&code| code < 54).count() >= 21);
        assert!(codes.iter().all(|&code| code <= 57));
    }
}
