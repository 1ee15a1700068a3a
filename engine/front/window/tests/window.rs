//! The window itself, on whatever Vulkan driver there is, under a virtual display
//! where there is no other. Nothing is skipped: without a display the test says
//! what to install and fails.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Facelet, Stickering};
use dryturn_rehearsal::{BuiltRig, Rehearser};
use dryturn_scene::Scene;
use dryturn_script::Host;
use dryturn_units::noise::Seed;
use serde_json::Value as Json;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../..").canonicalize().unwrap()
}

fn scene() -> Arc<Scene> {
    let text = std::fs::read_to_string(root().join("scenes/foyer_morning.ron")).unwrap();
    Arc::new(Scene::parse(&text, "foyer_morning.ron").unwrap())
}

/// Runs the window in the repository's root, on the present display or a virtual one.
fn window(arguments: &[&str]) -> Output {
    let program = env!("CARGO_BIN_EXE_dryturn-window");
    let mut command = if std::env::var_os("DISPLAY").is_some() {
        Command::new(program)
    } else {
        let mut virtual_display = Command::new("xvfb-run");
        virtual_display.args(["-a", "-s", "-screen 0 1280x800x24", program]);
        virtual_display
    };
    command.current_dir(root()).args(arguments).output().unwrap_or_else(|error| {
        panic!("no display, and xvfb-run: {error}; install xvfb, xauth and mesa-vulkan-drivers")
    })
}

struct Files;

impl Host for Files {
    fn read_text(&self, path: &str) -> Result<String, String> {
        std::fs::read_to_string(root().join("scripts").join(path)).map_err(|e| e.to_string())
    }
    fn progress(&self, _: &str, _: usize, _: usize) {}
}

struct Picture(image::RgbImage);

impl Picture {
    fn open(path: &Path) -> Self {
        Self(image::open(path).unwrap_or_else(|e| panic!("{}: {e}", path.display())).to_rgb8())
    }

    /// Mean of the 3 × 3 pixels round a place.
    fn at(&self, x: f64, y: f64) -> [f64; 3] {
        let mut sum = [0.0; 3];
        for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
            let (x, y) = (x.round() as i64 + dx, y.round() as i64 + dy);
            let pixel = self.0.get_pixel(x.max(0) as u32, y.max(0) as u32);
            (0..3).for_each(|c| sum[c] += f64::from(pixel[c]) / 9.0);
        }
        sum
    }
}

/// The face whose colour in the 3D view a pixel has; `None` for grey things.
fn face_of([r, g, b]: [f64; 3]) -> Option<Face> {
    let most = r.max(g).max(b).max(1.0);
    let least = r.min(g).min(b);
    if (most - least) / most < 0.22 {
        return (most > 140.0).then_some(Face::U);
    }
    Some(match (r >= g, g >= b, r >= b) {
        (true, true, _) if g / r > 0.68 => Face::D,
        (true, true, _) if g / r > 0.36 => Face::L,
        (true, _, true) => Face::R,
        (false, true, _) => Face::F,
        _ => Face::B,
    })
}

/// The window opens, runs the first rehearsal, plays it to the end, changes a
/// lamp, is handed ten broken files, takes pictures, and closes with code 0.
#[test]
fn the_whole_window_without_a_person() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let output = window(&["--inspect", at.to_str().unwrap()]);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{said}");
    let text = std::fs::read_to_string(at.join("inspection.json")).unwrap();
    let found: Json = serde_json::from_str(&text).unwrap();
    for name in ["opened", "rehearsed", "played", "lamp", "broken"] {
        let picture = Picture::open(&at.join(format!("{name}.png")));
        assert_eq!(picture.0.dimensions(), (1280, 800), "{name}");
    }
    ledger_equals_the_headless_one(at);
    assert_eq!(found["failed"], 0);
    assert_eq!(found["played_to_ms"], found["run_ms"], "played to the end");
    assert_eq!(found["ends_solved"], true);
    assert_eq!(found["broken_files"], 10);
    assert_eq!(found["said"].as_object().unwrap().len(), 10);
    camera_frames_are_the_engines(at);
    for name in ["opened", "played"] {
        // Solved when the window opens, and again when the run has been played.
        let places = &found["facelets"][name];
        cube_colours_are_at_their_places(&at.join(format!("{name}.png")), places);
    }
    for (index, name) in "abcdefghij".chars().enumerate() {
        let said = found["said"][index.to_string()].as_str().unwrap();
        assert!(said.contains(&format!("broken/{name}.")), "{said}");
    }
    camera_pictures_are_on_the_screen(at, &found);
    for (what, key) in [("dimmed", ""), ("moved", "moved_")] {
        let [coarse, full] = ["coarse_ms", "full_ms"].map(|time| &found[format!("{key}{time}")]);
        println!("lamp {what}: coarse pictures after {coarse} ms, full ones after {full} ms");
        assert!(coarse.is_number() && full.is_number());
    }
}

fn ledger_equals_the_headless_one(at: &Path) {
    let script = std::fs::read_to_string(root().join("scripts/first_rehearsal.rhai")).unwrap();
    let record =
        dryturn_script::run("first_rehearsal.rhai", &script, Seed::new(1), Arc::new(Files))
            .unwrap();
    let ledger = std::fs::read_to_string(at.join("ledger.jsonl")).unwrap();
    assert!(ledger == record.ledger_text(), "the ledgers differ");
}

/// After the lamp has changed: byte for byte what the engine renders.
fn camera_frames_are_the_engines(at: &Path) {
    let changed = Arc::new(scene().with("lamps.lower.flux_lm", 120.into()).unwrap());
    let truth = Rehearser::new(Seed::new(1)).random_cube(0);
    let scan = BuiltRig::new(&changed, Seed::new(1), 0).scan(&Stickering::from(&truth));
    for frame in &scan.frames {
        let picture = Picture::open(&at.join(format!("camera-{}.png", frame.camera)));
        assert!(picture.0.as_raw() == &frame.pixels, "camera {}", frame.camera);
    }
}

/// The 3D cube shows each face's colour where it must be, unless a shaft or a
/// motor stands before it.
fn cube_colours_are_at_their_places(path: &Path, places: &Json) {
    let picture = Picture::open(path);
    let (mut right, mut wrong) = (Vec::new(), Vec::new());
    for place in places.as_array().unwrap() {
        let pixel = picture.at(place["x"].as_f64().unwrap(), place["y"].as_f64().unwrap());
        let wanted = place["face"].as_str().unwrap();
        match face_of(pixel) {
            Some(face) if face.to_string() == wanted => right.push(wanted.to_owned()),
            Some(face) => wrong.push(format!("{} shows {face} {pixel:?}", place["facelet"])),
            None => {}
        }
    }
    for face in ["U", "R", "F"] {
        let count = right.iter().filter(|f| *f == face).count();
        assert!(count >= 2, "face {face} is seen {count} times; {right:?} {wrong:?}");
    }
    assert!(wrong.len() <= 1, "{wrong:?}");
}

/// The camera pictures on the screen are the engine's frames, scaled.
fn camera_pictures_are_on_the_screen(at: &Path, found: &Json) {
    let picture = Picture::open(&at.join("opened.png"));
    let solved = Stickering::from(&CubeState::SOLVED);
    let scene = scene();
    let scan = BuiltRig::new(&scene, Seed::new(1), 0).scan(&solved);
    let mut compared = 0;
    for (camera, frame) in scan.frames.iter().enumerate() {
        let rect: Vec<f64> = found["pictures"][camera]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_f64().unwrap())
            .collect();
        let scale = rect[2] / frame.width as f64;
        for facelet in Facelet::all() {
            let corners = scene.rig().facelet_corners_mm(facelet);
            let middle = (corners[0] + corners[2]) / 2.0;
            let outwards = (corners[1] - corners[0]).cross(corners[0] - corners[3]);
            if (scene.views()[camera].pose.position - middle).dot(outwards) <= 0.0 {
                continue;
            }
            let Some(pixel) = scene.views()[camera].project(middle) else { continue };
            let (x, y) = (pixel.x.round() as usize, pixel.y.round() as usize);
            // Only where the engine's picture is one colour round about.
            let near = |dx: usize, dy: usize| frame.pixel((y + dy - 4) * frame.width + x + dx - 4);
            let here = near(4, 4);
            let even = [(0, 4), (8, 4), (4, 0), (4, 8)]
                .iter()
                .all(|&(dx, dy)| near(dx, dy).summed_difference(here) < 60);
            if !even {
                continue;
            }
            let shown =
                picture.at(rect[0] + (pixel.x + 0.5) * scale, rect[1] + (pixel.y + 0.5) * scale);
            let off: f64 = (0..3).map(|c| (shown[c] - f64::from(here.0[c])).abs()).sum();
            assert!(off < 75.0, "camera {camera}, {facelet}: {shown:?} instead of {:?}", here.0);
            compared += 1;
        }
    }
    assert!(compared >= 30, "{compared} places compared");
}

/// A picture without any window, with what was asked for on it.
#[test]
fn a_picture_is_drawn_offscreen() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("picture.png");
    let shown = path.to_str().unwrap();
    let arguments = [
        "--picture",
        shown,
        "--script",
        "scripts/first_rehearsal.rhai",
        "--at-ms",
        "300",
        "--view",
        "happen",
        "--size",
        "1600x1000",
    ];
    let output = Command::new(env!("CARGO_BIN_EXE_dryturn-window"))
        .current_dir(root())
        .env_remove("DISPLAY")
        .args(arguments)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let picture = Picture::open(&path);
    assert_eq!(picture.0.dimensions(), (1600, 1000));
    let different: std::collections::BTreeSet<[u8; 3]> = picture.0.pixels().map(|p| p.0).collect();
    assert!(different.len() > 500, "{} colours", different.len());
}

#[test]
fn bad_arguments_are_one_line_and_code_two() {
    let program = || Command::new(env!("CARGO_BIN_EXE_dryturn-window"));
    let missing =
        program().args(["--scene", "none.ron", "--picture", "never.png"]).output().unwrap();
    assert_eq!(missing.status.code(), Some(2));
    let said = String::from_utf8_lossy(&missing.stderr).into_owned();
    assert_eq!(said.lines().count(), 1, "{said}");
    assert!(said.contains("none.ron"), "{said}");
    let no_script = ["--script", "none.rhai", "--picture", "never.png"];
    let failed = program().current_dir(root()).args(no_script).output().unwrap();
    assert_eq!(failed.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&failed.stderr).contains("none.rhai"));
    for wrong in [&["--size", "3"][..], &["--at-ms", "5"], &["--fly"]] {
        let usage = program().args(wrong).output().unwrap();
        assert_eq!(usage.status.code(), Some(2));
        let said = String::from_utf8_lossy(&usage.stderr).into_owned();
        assert_eq!(said.lines().count(), 1, "{said}");
    }
}

/// No display and no driver are said in one line each.
#[test]
fn a_missing_display_or_driver_is_said() {
    let run = |variables: &[(&str, &str)], arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_dryturn-window"));
        command.current_dir(root()).env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
        for (name, value) in variables {
            command.env(name, value);
        }
        let output = command.args(arguments).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{said}");
        said
    };
    assert!(run(&[], &[]).contains("no display"));
    let none = [("VK_DRIVER_FILES", "/none"), ("VK_ICD_FILENAMES", "/none")];
    let said = run(&none, &["--picture", "never.png"]);
    assert!(said.contains("no graphics driver"), "{said}");
}
