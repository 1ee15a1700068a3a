//! Broken optics: each scene is refused with its place, or the survey says what is wrong
//! with the layout.

use std::path::Path;

use super::{refused, workbench};
use crate::help;

/// Name, what is replaced by what, what comes after that, and parts of the message.
type Broken<'a> = (&'a str, (&'a str, &'a str), &'a str, &'a [&'a str]);

/// What is added to the first lamp, the second camera, the cube, the room or the list of
/// fixtures of the workbench, and what the message must say.
#[test]
fn broken_optics() {
    const LAMP: (&str, &str) = ("name: \"panel\",", "name: \"panel\", ");
    const CAMERA: (&str, &str) = ("name: \"low\", ", "name: \"low\", ");
    const FOCUS: (&str, &str) = ("f_number_ratio: 2.8,", "");
    const EXPOSED: (&str, &str) = ("exposure_ms: 20.0,", "");
    const CUBE: (&str, &str) = ("colours: (),", "colours: (), ");
    const ROOM: (&str, &str) = ("ambient_lux: 300.0,", "ambient_lux: 300.0, ");
    const FIXTURE: (&str, &str) = ("fixtures: [", "fixtures: [");
    let cases: &[Broken] = &[
        (
            "negative reflectance of a body",
            CUBE,
            "body_reflectance_share: -0.1,",
            &["cube.body_reflectance_share", "-0.1", "0.0 to 1.0"],
        ),
        (
            "a wall brighter than white",
            ROOM,
            "backdrop_reflectance_share: 1.2,",
            &["surroundings.backdrop_reflectance_share", "1.2", "0.0 to 1.0"],
        ),
        (
            "a fixture that gives light",
            FIXTURE,
            "(name: \"x\", position_mm: (0, 300, 0), size_mm: (9, 9, 9), reflectance_share: 7.0),",
            &["fixtures[0].reflectance_share", "7", "0.0 to 1.0"],
        ),
        ("no aperture", FOCUS, "f_number_ratio: 0.0,", &["f_number_ratio", "0.7 to 64.0"]),
        ("no exposure", EXPOSED, "exposure_ms: 0.0,", &["exposure_ms", "0.001 to 1000.0"]),
        (
            "a second picture too short",
            EXPOSED,
            "exposure_ms: 0.003, bracket_share: 0.2,",
            &["bracket_share", "0.2", "at least 0.334", "0.001 ms"],
        ),
        (
            "a second picture too late",
            EXPOSED,
            "exposure_ms: 20.0, bracket_share: 0.5, start_ms: 999990.0,",
            &["start_ms", "999990", "at most 9999"],
        ),
        ("one pixel wide", CAMERA, "width_px: 1,", &["width_px", "is 1", "64 to 4096"]),
        (
            "twenty thousand high",
            CAMERA,
            "height_px: 20000,",
            &["cameras[1].height_px", "20000", "64 to 4096"],
        ),
        (
            "large under many lamps",
            ("lamps: [", "lamps: ["),
            "(name: \"a\", position_mm: (0, 900, 0), flux_lm: 1, spectrum: LedB1),
             (name: \"b\", position_mm: (0, 901, 0), flux_lm: 1, spectrum: LedB1),
             (name: \"c\", position_mm: (0, 902, 0), flux_lm: 1, spectrum: LedB1),",
            &["cameras", "under 4 lamps", "64000000"],
        ),
        (
            "two rays",
            CAMERA,
            "samples_px: 2,",
            &["samples_px", "is 2", "1, 4, 16, 64, 256 or 1024"],
        ),
        ("no rays", CAMERA, "samples_px: 0,", &["samples_px", "is 0"]),
        (
            "half a circle of view",
            CAMERA,
            "horizontal_fov_deg: 180.0,",
            &["horizontal_fov_deg", "180", "2.0 to 150.0"],
        ),
        (
            "sharp behind the lens",
            CAMERA,
            "focus_mm: 1.0,",
            &["cameras[1].focus_mm", "is 1", "twice the lens's distance"],
        ),
        ("no well", CAMERA, "full_well_e: 0.0,", &["full_well_e", "100.0 to 100000000.0"]),
        ("negative noise", CAMERA, "read_noise_e: -1.0,", &["read_noise_e", "-1"]),
        ("one bit", CAMERA, "converter_bits: 1,", &["converter_bits", "8 to 16"]),
        ("no gain", CAMERA, "gain_ratio: 0.0,", &["gain_ratio", "0.1 to 64.0"]),
        ("unknown mosaic", CAMERA, "mosaic: Xyzw,", &["Xyzw", "Rggb"]),
        (
            "a JPEG better than all",
            CAMERA,
            "jpeg_quality_percent: 101,",
            &["jpeg_quality_percent", "101", "0 to 100"],
        ),
        (
            "a matrix of two numbers",
            (
                "colour_matrix_blue_ratio: (0.005, -0.445, 1.44)",
                "colour_matrix_blue_ratio: (0.005, ",
            ),
            "-0.445)",
            &["broken.ron:"],
        ),
        (
            "lamp that takes light",
            ("flux_lm: 4000.0,", ""),
            "flux_lm: -5.0,",
            &["lamps[0].flux_lm", "-5", "0.0 to 10000000.0"],
        ),
        ("unknown shape", LAMP, "shape: Cone,", &["Cone", "Rectangle"]),
        (
            "flickers out of nothing",
            LAMP,
            "flicker_depth_share: 1.5,",
            &["lamps[0].flicker_depth_share", "1.5", "0.0 to 1.0"],
        ),
        ("never on", LAMP, "flicker_duty_share: 0.0,", &["flicker_duty_share", "0.01 to 0.99"]),
        ("a still flicker", LAMP, "flicker_hz: 0.0,", &["flicker_hz", "1.0 to 100000.0"]),
        (
            "cold room",
            ("ambient_cct_k: 5000.0", ""),
            "ambient_spectrum: Thermal, ambient_cct_k: 900.0, bounce: true",
            &["surroundings.ambient_cct_k", "900", "1500.0 to 25000.0"],
        ),
        ("worn away", CUBE, "wear_share: 2.0,", &["cube.wear_share", "is 2", "0.0 to 1.0"]),
        (
            "rims that meet",
            CUBE,
            "rim_radius_mm: 6.0, edge_mm: 30.0, facelet_edge_mm: 8.0,",
            &["cube.rim_radius_mm", "0.4 of a piece"],
        ),
        (
            "gaps wider than the pieces",
            CUBE,
            "edge_mm: 30.0, facelet_edge_mm: 5.0, gap_mm: 5.0,",
            &["cube.gap_mm"],
        ),
        (
            "sharper than a ray",
            CUBE,
            "gloss_width_ratio: 0.001,",
            &["cube.gloss_width_ratio", "0, or 0.03 to 1"],
        ),
        (
            "corners rounder than a sticker",
            CUBE,
            "facelet_corner_mm: 10.0,",
            &["cube.facelet_corner_mm", "half a sticker"],
        ),
        (
            "a panel in the way of a layer",
            FIXTURE,
            "(name: \"x\", position_mm: (30, 30, 0), size_mm: (9, 9, 9)),",
            &["fixtures[0].position_mm", "in the way of a turning layer"],
        ),
        (
            "two fixtures of one name",
            FIXTURE,
            "(name: \"card\", position_mm: (0, 300, 0), size_mm: (9, 9, 9)),",
            &["fixtures[1].name", "each name once"],
        ),
        (
            "a coupler longer than its shaft",
            ("(face: U),", "(face: U, coupler_length_mm: 60.0, length_mm: 50.0), "),
            "",
            &["shafts[0].coupler_length_mm", "at most"],
        ),
    ];
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for (name, (from, to), added, parts) in cases {
        let mut text = workbench(from, &format!("{to}{added}"));
        if *name == "large under many lamps" {
            for camera in ["high", "low"] {
                let from = format!("name: \"{camera}\",");
                let large = format!("{from} width_px: 4096, height_px: 4096,");
                text = text.replacen(&from, &large, 1);
            }
        }
        std::fs::write(at.join("broken.ron"), text).unwrap();
        let call = help::call(at, &["check", "broken.ron"]);
        refused(name, &call, &[&["broken.ron"], *parts].concat());
    }
    assert!(cases.len() >= 25);
    // A grey patch to balance on, where there is none.
    let text = help::read("scenes/workbench.ron").replace("role: GreyPatch,", "");
    std::fs::write(at.join("broken.ron"), text).unwrap();
    let call = help::call(at, &["check", "broken.ron"]);
    let said: Vec<&str> = call.stderr.lines().collect();
    assert_eq!((call.code, said.len()), (2, 2), "{}", call.stderr);
    for (camera, line) in said.iter().enumerate() {
        let field = format!("cameras[{camera}].white_balance is GreyPatch");
        assert!(line.contains(&field) && line.contains("Fixed or GreyWorld"), "{line}");
    }
}

/// Tables of curves: which file, which line, what is allowed.
#[test]
fn broken_curves() {
    let cases: &[(&str, &str, &[&str])] = &[
        ("one wavelength", "nm,power\n500,1\n", &["1 wavelengths", "at least 2"]),
        ("nothing", "", &["empty", "nm,power"]),
        ("another header", "wavelength,power\n400,1\n", &["line 1", "must be nm,power"]),
        ("negative power", "nm,power\n400,1\n700,-2\n", &["line 3", "power", "-2"]),
        ("no number", "nm,power\n400,bright\n700,1\n", &["line 2", "bright"]),
        ("backwards", "nm,power\n700,1\n400,1\n", &["line 3", "above the line before"]),
        ("a column too many", "nm,power\n400,1,2\n", &["line 2", "3 values", "must be 2"]),
        ("too short a span", "nm,power\n500,1\n600,1\n", &["500 to 600", "420 to 680"]),
        ("dark", "nm,power\n400,0\n700,0\n", &["0 from 420 to 680 nm"]),
        ("unseen", "nm,power\n300,1\n350,0\n780,0\n", &["0 from 420 to 680 nm"]),
        ("infinite", "nm,power\n400,inf\n700,1\n", &["line 2", "inf"]),
    ];
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = |from: &str, to: &str| std::fs::write(at.join("s.ron"), workbench(from, to));
    scene("spectrum: Daylight,", "spectrum: Measured, spectrum_csv: \"lamp.csv\",").unwrap();
    let check = || help::call(at, &["check", "s.ron"]);
    refused("no table", &check(), &["lamps[0].spectrum_csv", "lamp.csv"]);
    for (name, table, parts) in cases {
        std::fs::write(at.join("lamp.csv"), table).unwrap();
        let place = ["s.ron", "lamps[0].spectrum_csv", "lamp.csv"];
        refused(name, &check(), &[&place[..], *parts].concat());
    }
    let long: String = (0..2001).map(|i| format!("{},1\n", 380.0 + 0.2 * f64::from(i))).collect();
    std::fs::write(at.join("lamp.csv"), format!("nm,power\n{long}")).unwrap();
    refused("a long table", &check(), &["lamp.csv", "more than 2000 wavelengths"]);
    // Pigments and sensors reflect and take at most all there is.
    let pigments = "nm,white,yellow,orange,red,green,blue\n400,1,1,1,1,1,1\n700,1,1,1,-0.2,1,1\n";
    std::fs::write(at.join("p.csv"), pigments).unwrap();
    scene("colours: (),", "colours: (), pigments_csv: \"p.csv\",").unwrap();
    refused("negative", &check(), &["cube.pigments_csv", "line 3", "red", "-0.2", "0 to 1"]);
    std::fs::write(at.join("q.csv"), "nm,red,green,blue\n400,0,0,1.3\n700,1,0,0\n").unwrap();
    scene("name: \"low\",", "name: \"low\", sensor_csv: \"q.csv\",").unwrap();
    refused("overcounting", &check(), &["cameras[1].sensor_csv", "line 2", "blue", "1.3"]);
}

/// The findings of a survey.
fn findings(at: &Path, text: &str) -> String {
    std::fs::write(at.join("layout.ron"), text).unwrap();
    let call = help::call(at, &["survey", "layout.ron", "--json"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let answer: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    let list = answer["findings"].as_array().unwrap();
    list.iter().map(|f| format!("{}\n", f.as_str().unwrap())).collect()
}

/// Layouts that can be built but not worked with: no error, a finding.
#[test]
fn useless_layouts_are_findings() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let cases: &[(&str, &str, &str, &[&str])] = &[
        (
            "camera that looks away",
            "name: \"low\",",
            "name: \"low\", aim_mm: (-300.0, -300.0, -300.0),",
            &["low", "sees no facelet"],
        ),
        (
            "camera before a panel",
            "fixtures: [",
            "fixtures: [(name: \"plate\", position_mm: (-90.0, -90.0, -90.0), size_mm: (60.0, 60.0, 20.0)),",
            &["hidden by plate: "],
        ),
        (
            "in the dark",
            "surroundings: (ambient_lux: 300.0,",
            "surroundings: (ambient_lux: 0.0,",
            &["standard deviations apart"],
        ),
        (
            "blinded",
            "name: \"high\", position_mm: (127.0, 127.0, 127.0),\n            exposure_ms: 10.0",
            "name: \"high\", position_mm: (127.0, 127.0, 127.0),\n            exposure_ms: 1000.0",
            &["high", "white would saturate"],
        ),
        (
            "grey patch out of view",
            "position_mm: (54, 0, -54)",
            "position_mm: (900, 0, 0)",
            &["camera high: sees no grey patch"],
        ),
        (
            "out of focus",
            "name: \"low\",",
            "name: \"low\", focus_mm: 40.0,",
            &["low", "blurred by"],
        ),
    ];
    for (name, from, to, parts) in cases {
        let found = findings(at, &workbench(from, to));
        for part in *parts {
            assert!(found.contains(part), "{name} does not say {part:?}:\n{found}");
        }
    }
}
