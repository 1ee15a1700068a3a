//! All that is wrong with a scene is said in one run: a line for each fault, in the order of
//! the file, with line and column.

use super::workbench;
use crate::help;

/// What is replaced by what, in the workbench.
type Change<'a> = (&'a str, &'a str);
/// Name, three changes, and parts of the three lines.
type Case<'a> = (&'a str, [Change<'a>; 3], [&'a [&'a str]; 3]);

const CUBE: &str = "colours: ()";
const HIGH: &str = "name: \"high\", ";
const LOW: &str = "name: \"low\", ";
const FLUX: &str = "flux_lm: 4000.0";
const PANEL: &str = "(0.0, 700.0, 300.0)";
const ROOM: &str = "ambient_lux: 300.0";
const DRIVE: &str = "drive: ()";
const TOLERANCES: &str = "tolerances: ()";

#[test]
fn three_faults_are_three_lines() {
    let cases: &[Case] = &[
        (
            "three ranges",
            [
                (FLUX, "flux_lm: 1e9"),
                (ROOM, "ambient_lux: -1"),
                (DRIVE, "drive: (bus_voltage_v: 1)"),
            ],
            [
                &["lamps[0].flux_lm", "1000000000"],
                &["ambient_lux", "-1"],
                &["bus_voltage_v", "is 1:"],
            ],
        ),
        (
            "three unknown fields",
            [
                (CUBE, "colours: (), weight_kg: 1"),
                (FLUX, "flux_lm: 4000.0, beam_deg: 3"),
                (DRIVE, "drive: (colour: 3)"),
            ],
            [
                &["cube.weight_kg", "no field of Cube"],
                &["lamps[0].beam_deg", "Lamp"],
                &["drive.colour", "Drive"],
            ],
        ),
        (
            "three missing fields",
            [(LOW, ""), ("flux_lm: 4000.0,", ""), ("tolerances: (),", "")],
            [
                &["tolerances is missing"],
                &["cameras[1].name is missing"],
                &["lamps[0].flux_lm is missing"],
            ],
        ),
        (
            "three wrong kinds",
            [(FLUX, "flux_lm: \"bright\""), (ROOM, "ambient_lux: [3]"), (DRIVE, "drive: 48")],
            [
                &["lamps[0].flux_lm is \"bright\"", "0.0 to"],
                &["ambient_lux is [3]"],
                &["drive is 48", "block Drive"],
            ],
        ),
        (
            "three unknown choices",
            [
                (CUBE, "colours: (up: Pink)"),
                ("white_balance: GreyPatch", "white_balance: Magic"),
                ("spectrum: Daylight", "spectrum: Moonlight"),
            ],
            [
                &["cube.colours.up is Pink", "White"],
                &["cameras[0].white_balance is Magic", "GreyWorld"],
                &["lamps[0].spectrum is Moonlight", "Thermal"],
            ],
        ),
        (
            "missing, unknown, out of range",
            [
                ("flux_lm: 4000.0,", ""),
                (DRIVE, "drive: (speed: 1)"),
                (HIGH, "name: \"high\", width_px: 5,"),
            ],
            [&["cameras[0].width_px is 5"], &["lamps[0].flux_lm is missing"], &["drive.speed"]],
        ),
        (
            "three units",
            [
                ("width_mm: 600.0", "width_cm: 60.0"),
                ("height_mm: 300.0", "height_m: 0.3"),
                (ROOM, "ambient_lm: 300.0"),
            ],
            [
                &["lamps[0].width_cm", "(width_mm?)"],
                &["lamps[0].height_m", "(height_mm?)"],
                &["surroundings.ambient_lm", "(ambient_lux?)"],
            ],
        ),
        (
            "a misspelt required field is one fault",
            [
                ("flux_lm: 4000.0", "flux_lumen: 4000.0"),
                ("name: \"low\"", "nane: \"low\""),
                (TOLERANCES, "tolerance: ()"),
            ],
            [
                &["cameras[1].nane", "(name?)"],
                &["lamps[0].flux_lumen", "(flux_lm?)"],
                &["tolerance ", "(tolerances?)"],
            ],
        ),
        (
            "camera in the cube, lamp in the cube, two names",
            [
                ("(127.0, 127.0, 127.0)", "(5, 5, 5)"),
                (PANEL, "(1, 1, 1)"),
                (LOW, "name: \"high\", "),
            ],
            [
                &["cameras[0].position_mm", "inside the cube"],
                &["cameras[1].name", "once"],
                &["lamps[0].position_mm", "inside the cube"],
            ],
        ),
        (
            "cold daylight, a weak drive, stickers too large",
            [
                ("cct_k: 5000.0", "cct_k: 2700.0"),
                (DRIVE, "drive: (resistance_ohm: 50.0)"),
                (CUBE, "colours: (), facelet_edge_mm: 30.0"),
            ],
            [
                &["cube.facelet_edge_mm", "at most"],
                &["lamps[0].cct_k", "4000"],
                &["friction_torque_n_m", "stall"],
            ],
        ),
        (
            "three of one block",
            [
                (
                    HIGH,
                    "name: \"high\", samples_px: 2, auto_exposure_share: 0.9, gain_ratio: 0.5, ",
                ),
                (HIGH, "focus_mm: 1.0, name: \"high\", "),
                (HIGH, HIGH),
            ],
            [
                &["cameras[0].focus_mm is 1"],
                &["cameras[0].samples_px is 2"],
                &["cameras[0].auto_exposure_share", "0.475"],
            ],
        ),
        (
            "three of the cube",
            [
                (
                    CUBE,
                    "colours: (), edge_radius_mm: 8.0, clearance_mm: 2.0, edge_mm: 40.0, gloss_width_ratio: 0.01, facelet_edge_mm: 13.0",
                ),
                (CUBE, "facelet_corner_mm: 1.0, colours: ()"),
                (CUBE, CUBE),
            ],
            [
                &["cube.edge_radius_mm", "half a piece"],
                &["cube.gloss_width_ratio", "0.03"],
                &["cube.facelet_edge_mm", "at most"],
            ],
        ),
        (
            "one for all shafts, one for one, one face twice",
            [
                ("(face: U), (face: R),", "(face: U, width_mm: 99), (face: U),"),
                (CUBE, "colours: ()), every_shaft: (length_mm: -3"),
                (DRIVE, DRIVE),
            ],
            [
                &["every_shaft.length_mm is -3"],
                &["shafts[0].width_mm is 99"],
                &["shafts[1].face", "once"],
            ],
        ),
        (
            "three in every shaft",
            [
                (CUBE, "colours: ()), every_shaft: (width_cm: 1, face: U, section: Oval"),
                (DRIVE, DRIVE),
                (ROOM, ROOM),
            ],
            [
                &["every_shaft.width_cm", "(width_mm?)"],
                &["every_shaft.face is U", "left out"],
                &["every_shaft.section is Oval", "Hexagon"],
            ],
        ),
        (
            "fixtures in the way",
            [
                (
                    "fixtures: [",
                    "fixtures: [(name: \"a\", position_mm: (30, 30, 0), size_mm: (9, 9, 9)),",
                ),
                (
                    "fixtures: [",
                    "fixtures: [(name: \"b\", position_mm: (0, 30, 30), size_mm: (9, 9, 9)),",
                ),
                (FLUX, "flux_lm: -4"),
            ],
            [
                &["fixtures[0].position_mm", "turning layer"],
                &["fixtures[1].position_mm", "turning layer"],
                &["lamps[0].flux_lm is -4"],
            ],
        ),
        (
            "tables that are not there",
            [
                ("spectrum: Daylight", "spectrum: Measured, spectrum_csv: \"a.csv\""),
                (CUBE, "colours: (), pigments_csv: \"b.csv\""),
                (LOW, "name: \"low\", sensor_csv: \"c.csv\", "),
            ],
            [
                &["cube.pigments_csv", "b.csv"],
                &["cameras[1].sensor_csv", "c.csv"],
                &["lamps[0].spectrum_csv", "a.csv"],
            ],
        ),
        (
            "given twice",
            [
                (FLUX, "flux_lm: 4000.0, flux_lm: 3.0"),
                (ROOM, "ambient_lux: 300.0, ambient_lux: 2"),
                (DRIVE, "drive: (overhead_ms: -1)"),
            ],
            [
                &["lamps[0].flux_lm is given twice"],
                &["ambient_lux is given twice"],
                &["drive.overhead_ms is -1"],
            ],
        ),
        (
            "a list for a block, a block for a list, text for a place",
            [
                ("lamps: [", "lamps: [[],"),
                ("position_mm: (54, 0, -54)", "position_mm: \"here\""),
                (TOLERANCES, "tolerances: []"),
            ],
            [
                &["fixtures[0].position_mm is \"here\""],
                &["lamps[0] is []", "block Lamp"],
                &["tolerances is []"],
            ],
        ),
        (
            "no numbers",
            [
                (FLUX, "flux_lm: NaN"),
                (ROOM, "ambient_lux: inf"),
                ("width_mm: 600.0", "width_mm: 1e400"),
            ],
            [&["lamps[0].width_mm is inf"], &["lamps[0].flux_lm is NaN"], &["ambient_lux is inf"]],
        ),
        (
            "version, text, whole number",
            [
                ("version: 1", "version: 3"),
                ("name: \"Workbench, one panel\"", "name: 7"),
                (HIGH, "name: \"high\", width_px: 640.5, "),
            ],
            [
                &["version is 3", "must be 1"],
                &["name is 7"],
                &["cameras[0].width_px is 640.5", "64 to 4096"],
            ],
        ),
    ];
    assert_eq!(cases.len(), 20);
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for (name, changes, lines) in cases {
        let mut text = workbench("version: 1", "version: 1");
        for (from, to) in changes {
            assert!(text.contains(from), "{name}: {from}");
            text = text.replacen(from, to, 1);
        }
        std::fs::write(at.join("broken.ron"), text).unwrap();
        let call = help::call(at, &["check", "broken.ron", "--json"]);
        assert_eq!(call.code, 2, "{name}: {}", call.stdout);
        let said: Vec<&str> = call.stderr.lines().collect();
        assert_eq!(said.len(), 3, "{name}:\n{}", call.stderr);
        let mut before = 0;
        for (line, parts) in said.iter().zip(lines) {
            for part in *parts {
                assert!(
                    line.contains(part),
                    "{name} does not say {part:?} there:\n{}",
                    call.stderr
                );
            }
            // `dryturn: broken.ron:LINE:COLUMN: …`, line by line.
            let number: usize = line.split(':').nth(2).unwrap().parse().unwrap();
            assert!(number >= before, "{name} is out of order:\n{}", call.stderr);
            before = number;
        }
        let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
        assert_eq!(document["files"][0]["errors"].as_array().unwrap().len(), 3, "{name}");
    }
}

/// Other commands say all of it too, and so do scripts, in their one line.
#[test]
fn every_command_says_all_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let text = workbench(FLUX, "flux_lm: 1e9").replace(DRIVE, "drive: (colour: 3)");
    std::fs::write(at.join("b.ron"), text).unwrap();
    for arguments in
        [&["survey", "b.ron"][..], &["drill-axes", "b.ron"], &["frames", "b.ron", "--out", "o"]]
    {
        let call = help::call(at, arguments);
        assert_eq!((call.code, call.stderr.lines().count()), (2, 2), "{}", call.stderr);
    }
    std::fs::write(at.join("s.rhai"), "scene(\"b.ron\");").unwrap();
    let call = help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "o"]);
    assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{}", call.stderr);
    assert!(call.stderr.contains("flux_lm") && call.stderr.contains("drive.colour"));
}

/// Brackets that do not fit end it: one line, at its place.
#[test]
fn syntax_is_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for (from, to) in [(DRIVE, "drive: ("), (FLUX, "flux_lm 4000"), ("\"low\"", "\"low")] {
        std::fs::write(at.join("b.ron"), workbench(from, to)).unwrap();
        let call = help::call(at, &["check", "b.ron"]);
        assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{}", call.stderr);
        assert!(call.stderr.starts_with("dryturn: b.ron:"), "{}", call.stderr);
    }
}

/// What six shafts share is written once, and each may differ.
#[test]
fn shafts_share_what_is_written_once() {
    let shafts = "shafts: [\n        (face: U), (face: R), (face: F), (face: D), (face: L), (face: B),\n    ],";
    let parse = |to: &str| {
        dryturn_scene::Scene::parse(&workbench(shafts, to), "shared")
            .unwrap_or_else(|e| panic!("{e}"))
    };
    let widths = |to: &str| -> Vec<(String, f64, f64)> {
        let scene = parse(to);
        let shafts = scene.file().shafts.iter();
        shafts.map(|s| (s.face.face().to_string(), s.width_mm, s.length_mm)).collect()
    };
    let alike = |width: f64| {
        ["U", "R", "F", "D", "L", "B"].map(|face| (face.to_owned(), width, 70.0)).to_vec()
    };
    assert_eq!(widths(""), alike(8.0));
    assert_eq!(widths("every_shaft: (width_mm: 6.0),"), alike(6.0));
    let mixed = widths(
        "shafts: [(face: L, width_mm: 7.0)], every_shaft: (width_mm: 6.0, length_mm: 80.0),",
    );
    assert_eq!(mixed.len(), 6);
    assert_eq!(mixed[0], ("L".to_owned(), 7.0, 80.0));
    assert!(mixed[1..].iter().all(|shaft| (shaft.1, shaft.2) == (6.0, 80.0)), "{mixed:?}");
    // Written out in full, and changed one by one.
    let scene = parse("every_shaft: (width_mm: 6.0),");
    let again = dryturn_scene::Scene::parse(&scene.to_ron(), "again").unwrap();
    assert_eq!(scene.file(), again.file());
    assert!(
        !scene.to_ron().contains("every_shaft")
            && scene.to_ron().matches("width_mm: 6.0").count() == 6
    );
    let changed = scene.with("shafts.U.width_mm", 9.0.into()).unwrap();
    assert_eq!(changed.file().shafts[0].width_mm, 9.0);
    assert_eq!(parse("").identity(), help::scene("workbench").identity());
    // Colours and surroundings have defaults.
    let text = workbench("surroundings: (ambient_lux: 300.0, ambient_cct_k: 5000.0),", "");
    let plain = dryturn_scene::Scene::parse(&text.replace("colours: (),", ""), "plain").unwrap();
    assert_eq!(plain.file().surroundings, dryturn_scene::file::Surroundings::default());
    assert_eq!(plain.file().cube.colours, help::scene("workbench").file().cube.colours);
}
