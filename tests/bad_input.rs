//! What a broken input gives: one line, a code, nothing half-written.

mod many;
mod optics;
mod output_folder;

use std::path::Path;

use crate::help::{self, Call};

/// One line on stderr that names all of `parts`; the code; no panic; no output.
fn refused(name: &str, call: &Call, parts: &[&str]) {
    assert_eq!(call.code, 2, "{name}: {}\n{}", call.stdout, call.stderr);
    let lines: Vec<&str> = call.stderr.lines().collect();
    assert_eq!(lines.len(), 1, "{name} must give one line:\n{}", call.stderr);
    for part in parts {
        assert!(lines[0].contains(part), "{name} does not say {part:?}: {}", lines[0]);
    }
    for never in ["panicked", "our fault", "RUST_BACKTRACE"] {
        assert!(!lines[0].contains(never), "{name}: {}", lines[0]);
    }
}

fn workbench(from: &str, to: &str) -> String {
    let text = help::read("scenes/workbench.ron");
    assert!(text.contains(from), "{from}");
    text.replacen(from, to, 1)
}

/// Broken scenes: what is replaced, by what, and what the message must say.
#[test]
fn broken_scenes() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let cases: &[(&str, &str, &str, &[&str])] = &[
        (
            "value too large",
            "flux_lm: 4000.0",
            "flux_lm: 1e9",
            &["lamps[0].flux_lm", "1000000000", "0.0 to 10000000.0"],
        ),
        (
            "value too small",
            "drive: ()",
            "drive: (bus_voltage_v: 1.0)",
            &["drive.bus_voltage_v", "is 1", "6.0 to 60.0"],
        ),
        ("negative size", "width_mm: 600.0", "width_mm: -1.0", &["lamps[0].width_mm", "-1"]),
        ("not a number", "flux_lm: 4000.0", "flux_lm: NaN", &["lamps[0].flux_lm", "NaN", "0.0 to"]),
        ("infinite", "width_mm: 600.0", "width_mm: inf", &["lamps[0].width_mm", "inf"]),
        ("missing field", "flux_lm: 4000.0,", "", &["broken.ron:", "flux_lm"]),
        ("unknown field", "drive: ()", "drive: (colour: 3)", &["broken.ron:", "colour"]),
        (
            "wrong unit",
            "width_mm: 600.0",
            "width_cm: 60.0",
            &["broken.ron:", "width_cm", "width_mm"],
        ),
        ("wrong type", "flux_lm: 4000.0", "flux_lm: \"bright\"", &["broken.ron:"]),
        (
            "unknown choice",
            "spectrum: Daylight",
            "spectrum: Moonlight",
            &["broken.ron:", "Moonlight"],
        ),
        (
            "camera in the cube",
            "(127.0, 127.0, 127.0)",
            "(5.0, 5.0, 5.0)",
            &["cameras[0].position_mm", "inside the cube"],
        ),
        ("camera in a shaft", "(127.0, 127.0, 127.0)", "(0.0, 60.0, 1.0)", &["cameras[0]"]),
        (
            "camera in a motor",
            "(127.0, 127.0, 127.0)",
            "(0.0, 110.0, 10.0)",
            &["cameras[0].position_mm", "inside a motor"],
        ),
        (
            "lamp in the cube",
            "(0.0, 700.0, 300.0)",
            "(1.0, 1.0, 1.0)",
            &["lamps[0].position_mm", "inside the cube"],
        ),
        (
            "camera straight above",
            "(127.0, 127.0, 127.0)",
            "(0.0, 400.0, 0.0)",
            &["cameras[0].aim_mm", "up_ratio"],
        ),
        (
            "two cameras of one name",
            "name: \"low\"",
            "name: \"high\"",
            &["cameras[1].name", "each name once"],
        ),
        (
            "name that leaves the folder",
            "name: \"low\"",
            "name: \"../low\"",
            &["cameras[1].name", "letters, digits"],
        ),
        ("seven shafts", "(face: B),", "(face: B), (face: B),", &["shafts", "list of 7", "6"]),
        ("one face twice", "(face: B),", "(face: U),", &["shafts[5].face", "once"]),
        (
            "one colour twice",
            "colours: ()",
            "colours: (up: Red)",
            &["cube.colours", "six different"],
        ),
        ("cold daylight", "cct_k: 5000.0", "cct_k: 2700.0", &["lamps[0].cct_k", "4000"]),
        ("another version", "version: 1", "version: 2", &["version is 2", "must be 1"]),
        (
            "too weak a drive",
            "drive: ()",
            "drive: (bus_voltage_v: 12.0)",
            &["drive.friction_torque_n_m"],
        ),
        (
            "stickers too large",
            "colours: ()",
            "colours: (), facelet_edge_mm: 30.0",
            &["cube.facelet_edge_mm", "at most"],
        ),
        (
            "too many pixels",
            "name: \"low\"",
            "width_px: 4096, height_px: 4096, name: \"low\", position_mm: (-127.0, -127.0, -127.0)), (width_px: 4096, height_px: 4096, name: \"third\"",
            &["cameras", "64000000"],
        ),
        (
            "a fold in the lens",
            "name: \"low\"",
            "radial_k1_ratio: -1.0, horizontal_fov_deg: 90.0, name: \"low\"",
            &["cameras[1].radial_k1_ratio", "fold"],
        ),
        (
            "no up",
            "name: \"low\"",
            "up_ratio: (0.0, 0.0, 0.0), name: \"low\"",
            &["cameras[1].up_ratio", "not zero"],
        ),
        (
            "crossing motors",
            "(face: U), (face: R),",
            "(face: U, motor_width_mm: 150.0, length_mm: 30.0), (face: R, motor_width_mm: 150.0, length_mm: 30.0),",
            &["shafts", "crossing"],
        ),
        (
            "lamp that shines at itself",
            "(0.0, 700.0, 300.0)",
            "(0.0, 700.0, 300.0), aim_mm: (0.0, 700.0, 300.0)",
            &["lamps[0].aim_mm", "1 mm"],
        ),
        (
            "panel through the cube",
            "(0.0, 700.0, 300.0)",
            "(0.0, 60.0, 60.0), aim_mm: (1.0, 60.0, 60.0)",
            &["lamps[0].position_mm", "cuts the cube"],
        ),
        (
            "stall below friction",
            "drive: ()",
            "drive: (resistance_ohm: 50.0)",
            &["drive.friction_torque_n_m", "stall"],
        ),
        (
            "a drive that takes for ever",
            "drive: ()",
            "drive: (viscous_friction_n_m_s: 1.0)",
            &["drive", "half turn"],
        ),
        (
            "rounder than a piece",
            "colours: ()",
            "colours: (), edge_mm: 30.0, facelet_edge_mm: 8.0, edge_radius_mm: 8.0",
            &["cube.edge_radius_mm", "half a piece"],
        ),
        ("open bracket", "surroundings: (ambient", "surroundings: ((ambient", &["broken.ron:"]),
    ];
    for (name, from, to, parts) in cases {
        std::fs::write(at.join("broken.ron"), workbench(from, to)).unwrap();
        refused(
            name,
            &help::call(at, &["check", "broken.ron"]),
            &[&["broken.ron"], *parts].concat(),
        );
    }
    let no_lamps = help::read("scenes/workbench.ron");
    let (before, rest) = no_lamps.split_once("lamps: [").unwrap();
    let (_, after) = rest.split_once("\n    ],").unwrap();
    std::fs::write(at.join("broken.ron"), format!("{before}lamps: [],{after}")).unwrap();
    refused(
        "no lamps",
        &help::call(at, &["check", "broken.ron"]),
        &["lamps", "list of 0", "1 to 16"],
    );
    std::fs::write(at.join("broken.ron"), [0xff, 0xfe, 0x00]).unwrap();
    refused("not text", &help::call(at, &["check", "broken.ron"]), &["broken.ron", "UTF-8"]);
    refused("missing file", &help::call(at, &["check", "none.ron"]), &["none.ron"]);
    refused("folder", &help::call(at, &["check", "."]), &["."]);
}

/// Broken scripts: each leaves no output folder behind.
#[test]
fn broken_scripts() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("w.ron"), help::read("scenes/workbench.ron")).unwrap();
    let cases: &[(&str, &str, &[&str])] = &[
        ("syntax", "let x = ;", &["s.rhai:1:"]),
        ("unknown verb", "\n\nfly(3);", &["s.rhai:3:", "fly", "dryturn verbs"]),
        ("wrong argument", "random_cube(\"one\");", &["s.rhai:1:", "random_cube"]),
        ("endless loop", "loop { }", &["s.rhai:1:", "5000000 operations"]),
        ("endless recursion", "fn f() { f() } f();", &["s.rhai:1:"]),
        (
            "outside by dots",
            "save_text(\"../x.txt\", \"\");",
            &["s.rhai:1:", "../x.txt", "below the output folder"],
        ),
        ("outside by root", "save_text(\"/tmp/x.txt\", \"\");", &["s.rhai:1:", "/tmp/x.txt"]),
        ("reserved name", "save_text(\"ledger.jsonl\", \"\");", &["ledger.jsonl", "itself"]),
        ("same file twice", "save_text(\"a\", \"\"); save_text(\"a\", \"\");", &["before"]),
        ("bad turns", "cube_after(\"R Q\");", &["s.rhai:1:", "turn 2", "'Q'"]),
        (
            "illegal cube",
            "cube_of(\"U=RUU/UUU/UUU R=RRR/RRR/RRR F=FFF/FFF/FFF D=DDD/DDD/DDD L=LLL/LLL/LLL B=BBB/BBB/BBB\");",
            &["colour count", "9 times"],
        ),
        ("missing scene", "scene(\"none.ron\");", &["s.rhai:1:", "none.ron"]),
        (
            "bad field value",
            "scene(\"w.ron\").changed(\"drive.bus_voltage_v\", 400);",
            &["drive.bus_voltage_v", "400", "6.0 to 60.0"],
        ),
        (
            "no such field",
            "scene(\"w.ron\").changed(\"drive.colour\", 4);",
            &["drive.colour", "bus_voltage_v"],
        ),
        ("no such lamp", "scene(\"w.ron\").changed(\"lamps.sun.flux_lm\", 4);", &["sun"]),
        (
            "field of another kind",
            "scene(\"w.ron\").changed(\"shafts.U.fitted\", 4);",
            &["shafts.U.fitted", "4"],
        ),
        (
            "no trials",
            "drill_rehearsals(scene(\"w.ron\"), 0);",
            &["number of trials is 0", "1 to 10000"],
        ),
        ("negative trial", "random_cube(-1);", &["-1"]),
        ("expecting no number", "expect_near(\"a\", 1, 1, \"x\");", &["number", "string"]),
        (
            "reserved name as folder",
            "save_text(\"report.html/x\", \"\");",
            &["report.html/x", "itself"],
        ),
        ("file and folder", "save_text(\"a\", \"\"); save_text(\"a/b\", \"\");", &["at once"]),
        ("gigabytes of text", "let s = \"a\"; loop { s += s; }", &["too large", "100000"]),
        (
            "gigabytes of notes",
            "let s = \"a\"; for i in 0..16 { s += s; } loop { note(s); }",
            &["4194304 bytes"],
        ),
        (
            "gigabytes by one call",
            "let s = \"a\"; for i in 0..16 { s += s; } s = s.replace(\"a\", s);",
            &["100000 bytes"],
        ),
        ("an endless nest", "let a = []; loop { a = [a]; }", &["too large", "10000 items"]),
        ("sleeping", "sleep(1);", &["no clock"]),
        ("quantile of nothing", "drill_rehearsals(scene(\"w.ron\"), 1).time_ms(2);", &["0 to 1"]),
        ("thrown", "throw \"enough\";", &["s.rhai:1:", "enough"]),
    ];
    for (name, script, parts) in cases {
        std::fs::write(at.join("s.rhai"), script).unwrap();
        refused(
            name,
            &help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "out"]),
            parts,
        );
        assert!(!at.join("out").exists(), "{name} left an output folder");
    }
    assert!(!at.join("x.txt").exists() && !Path::new("/tmp/x.txt").exists());
}

fn png(width: u32, height: u32) -> Vec<u8> {
    let frame = dryturn_handoff::Frame {
        camera: String::new(),
        width: width as usize,
        height: height as usize,
        pixels: vec![0; (3 * width * height) as usize],
    };
    dryturn_report::encode(&frame).unwrap()
}

/// The checksum of PNG chunks (ISO 3309, as PNG's specification gives it).
fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32, &byte: &u8| {
        (0..8).fold(crc ^ u32::from(byte), |c, _| (c >> 1) ^ (0xedb8_8320 & (c & 1).wrapping_neg()))
    };
    !bytes.iter().fold(!0, step)
}

#[test]
fn broken_pictures_and_calibrations() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("w.ron"), help::read("scenes/workbench.ron")).unwrap();
    let good = png(640, 480);
    std::fs::write(at.join("good.png"), &good).unwrap();
    let read = |picture: &str| help::call(at, &["read", "--scene", "w.ron", picture, "good.png"]);
    std::fs::write(at.join("text.png"), "no picture").unwrap();
    refused("not a picture", &read("text.png"), &["text.png", "PNG", "JPEG"]);
    std::fs::write(at.join("empty.png"), "").unwrap();
    refused("empty picture", &read("empty.png"), &["empty.png"]);
    std::fs::write(at.join("cut.png"), &good[..good.len() / 2]).unwrap();
    refused("cut picture", &read("cut.png"), &["cut.png"]);
    std::fs::write(at.join("small.png"), png(64, 48)).unwrap();
    refused("wrong size", &read("small.png"), &["small.png", "64 × 48", "640 × 480", "high"]);
    refused("missing picture", &read("none.png"), &["none.png"]);
    // A header that claims gigabytes is refused before anything is unpacked.
    let mut bomb = good.clone();
    bomb[16..24].copy_from_slice(&[0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60]);
    let checksum = crc32(&bomb[12..29]);
    bomb[29..33].copy_from_slice(&checksum.to_be_bytes());
    std::fs::write(at.join("bomb.png"), &bomb).unwrap();
    refused("gigabytes", &read("bomb.png"), &["bomb.png", "60000 × 60000", "640 × 480"]);
    refused(
        "one picture for two cameras",
        &help::call(at, &["read", "--scene", "w.ron", "good.png"]),
        &["1 pictures", "high, low"],
    );
    std::fs::write(at.join("c.ron"), "(version: 4)").unwrap();
    let calibrated = |file: &str| {
        help::call(at, &["read", "--scene", "w.ron", "--calibration", file, "good.png", "good.png"])
    };
    refused("broken calibration", &calibrated("c.ron"), &["c.ron:1:"]);
    std::fs::write(at.join("v.ron"), "(version:7,made_under:\"x\",pooled:())").unwrap();
    refused(
        "calibration of another version",
        &calibrated("v.ron"),
        &["v.ron", "version 7", "version 4"],
    );
    std::fs::write(at.join("n.ron"), "(made_under:\"x\")").unwrap();
    refused("calibration without a version", &calibrated("n.ron"), &["n.ron:1:", "version"]);
}

#[test]
fn broken_states_and_turns() {
    let folder = tempfile::tempdir().unwrap();
    let plan = |cube: &str| help::call(folder.path(), &["plan", cube]);
    let faces = |u: &str, r: &str, f: &str| {
        format!("U={u} R={r} F={f} D=DDD/DDD/DDD L=LLL/LLL/LLL B=BBB/BBB/BBB")
    };
    let (u, r, f) = ("UUU/UUU/UUU", "RRR/RRR/RRR", "FFF/FFF/FFF");
    refused("bad notation", &plan("R3"), &["turn 1", "'R3'"]);
    refused("rotation", &plan("x R"), &["turn 1", "rotation"]);
    refused("colour count", &plan(&faces("UUR/UUU/UUU", r, f)), &["colour count", "9 times"]);
    refused("face missing", &plan("U=UUU/UUU/UUU"), &["face R is missing"]);
    refused(
        "row too short",
        &plan(&faces("UU/UUU/UUU", r, f)),
        &["face U, row 1", "three letters"],
    );
    refused("unknown letter", &plan(&faces("UUX/UUU/UUU", r, f)), &["face U, row 1"]);
    refused("flipped edge", &plan(&faces("UUU/UUU/UFU", r, "FUF/FFF/FFF")), &["edge flip"]);
    refused(
        "twisted corner",
        &plan(&faces("UUU/UUU/UUF", "URR/RRR/RRR", "FFR/FFF/FFF")),
        &["corner twist"],
    );
    refused("swapped edges", &plan(&faces(u, "RFR/RRR/RRR", "FRF/FFF/FFF")), &["parity"]);
}

#[test]
fn broken_usage() {
    let folder = tempfile::tempdir().unwrap();
    let usage: [&[&str]; 6] = [
        &[],
        &["fly"],
        &["rehearse"],
        &["plan", "R", "--seed", "minus"],
        &["plan", "R", "--threads", "9999"],
        &["plan", "R", "--nodes", "0"],
    ];
    for arguments in usage {
        let call = help::call(folder.path(), arguments);
        refused(&format!("{arguments:?}"), &call, &["--help"]);
        assert!(call.stdout.is_empty());
        let call = help::call(folder.path(), &[arguments, &["--json"]].concat());
        let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
        assert_eq!(document["exit_code"], 2, "{arguments:?}");
    }
}
