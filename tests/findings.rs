//! Nonsense that is a valid scene: `check` finds it, with its figures and what to change.

use std::path::Path;

use dryturn_scene::{Scene, Visibility};
use dryturn_studies::FindingKind;
use serde_json::{Value as Json, json};

use crate::help;

/// The finding that must be there, the scene it is made from, and what is changed in it.
type Nonsense<'a> = (&'a str, &'a str, &'a [(&'a str, Json)]);

/// Checks scenes in one call.
fn checked(at: &Path, scenes: &[(String, Scene)]) -> Vec<Json> {
    for (name, scene) in scenes {
        std::fs::write(at.join(name), scene.to_ron()).unwrap();
    }
    let files: Vec<&str> = scenes.iter().map(|(name, _)| name.as_str()).collect();
    let call = help::call(at, &[&["check", "--json"], &files[..]].concat());
    // Strange scenes can be run; one that reads nothing cannot do what it is there for.
    let blind = |(_, scene): &(String, Scene)| !Visibility::of(scene).reads_anything();
    let blind = scenes.iter().any(blind);
    assert_eq!(call.code, i32::from(blind), "{}", call.stderr);
    assert_eq!(call.stderr.contains("no camera reads a facelet"), blind, "{}", call.stderr);
    let document: Json = serde_json::from_str(&call.stdout).unwrap();
    document["files"].as_array().unwrap().clone()
}

/// A scene whose cameras look away is valid, but `check` and `survey` end with 1.
#[test]
fn a_scene_that_reads_nothing_is_no_success() {
    let folder = tempfile::tempdir().unwrap();
    let away = help::scene("workbench").with("cameras.*.aim_mm", json!([0.0, 900.0, 0.0])).unwrap();
    let files = checked(folder.path(), &[("away.ron".to_owned(), away)]);
    assert_eq!(files[0]["fine"], false);
    let call = help::call(folder.path(), &["survey", "away.ron", "--draws", "0"]);
    assert_eq!(call.code, 1, "{}", call.stderr);
    assert!(call.stderr.contains("no camera reads a facelet"), "{}", call.stderr);
}

fn kinds(file: &Json) -> Vec<&str> {
    let findings = file["findings"].as_array().unwrap();
    findings.iter().map(|finding| finding["kind"].as_str().unwrap()).collect()
}

/// Each scene of the table has its finding, at a field that there is, with figures, in a
/// sentence that says them and what to change.
fn all_found(table: &[Nonsense<'_>]) {
    let folder = tempfile::tempdir().unwrap();
    let make = |(i, (kind, from, changes)): (usize, &Nonsense<'_>)| {
        let changes: Vec<(&str, Json)> = changes.to_vec();
        let scene = help::scene(from).with_all(&changes);
        (format!("{i}-{kind}.ron"), scene.unwrap_or_else(|error| panic!("{kind}: {error}")))
    };
    let scenes: Vec<(String, Scene)> = table.iter().enumerate().map(make).collect();
    let mut missing = Vec::new();
    for ((kind, _, _), (file, (name, scene))) in
        table.iter().zip(checked(folder.path(), &scenes).iter().zip(&scenes))
    {
        let found = file["findings"].as_array().unwrap();
        let Some(found) = found.iter().find(|finding| finding["kind"] == *kind) else {
            missing.push(format!("{name}: only {:?}", kinds(file)));
            continue;
        };
        let says = found["says"].as_str().unwrap();
        let change = found["change"].as_str().unwrap();
        let figures = found["figures"].as_object().unwrap();
        assert!(figures.values().all(Json::is_number), "{name}: {figures:?}");
        if *kind != "shaft-not-fitted" {
            assert!(!figures.is_empty(), "{name}");
            assert!(says.contains(|c: char| c.is_ascii_digit()), "{name} says no figure: {says}");
        }
        assert!(change.len() > 5 && !says.contains("NaN") && !says.contains("inf"), "{says}");
        // The field leads somewhere: a block, a list, or a value.
        let field = found["field"].as_str().unwrap();
        let value = serde_json::to_value(scene.file()).unwrap();
        let place = field.split('.').try_fold(&value, |value, word| match value {
            Json::Array(items) => {
                let named = |item: &&Json| item["name"] == word || item["face"] == word;
                items.iter().find(named)
            }
            other => other.get(word),
        });
        assert!(place.is_some(), "{name}: {field}");
    }
    assert!(
        missing.is_empty(),
        "{} of {} not found:\n{}",
        missing.len(),
        table.len(),
        missing.join("\n")
    );
}

const ROD: &str = "shafts.U.";

#[test]
fn nonsense_of_cameras_is_found() {
    let w = "workbench";
    let high = |field: &str| format!("cameras.high.{field}");
    let low = |field: &str| format!("cameras.low.{field}");
    let position = low("position_mm");
    let (aim, fov, focus) = (low("aim_mm"), low("horizontal_fov_deg"), high("focus_mm"));
    let plate = json!([
        { "name": "plate", "role": "Bracket", "shape": "Block", "position_mm": [-90, -90, -90],
          "size_mm": [60, 60, 20], "reflectance_share": 0.3, "gloss_width_ratio": 0.5 },
        { "name": "card", "role": "GreyPatch", "shape": "Block", "position_mm": [54, 0, -54],
          "size_mm": [18, 18, 18], "reflectance_share": 0.18, "gloss_width_ratio": 0.5 },
    ]);
    let mut post = plate.clone();
    (post[0]["position_mm"], post[0]["size_mm"]) = (json!([-80, -80, -80]), json!([14, 14, 14]));
    all_found(&[
        ("camera-looks-away", w, &[(&aim, json!([-300, -300, -300]))]),
        ("camera-blocked", w, &[("fixtures", plate)]),
        ("fixture-in-the-way", w, &[("fixtures", post)]),
        ("camera-reads-nothing", w, &[(&fov, json!(140.0))]),
        ("camera-adds-nothing", w, &[(&position, json!([135, 135, 135]))]),
        ("cameras-at-one-place", w, &[(&position, json!([126, 127, 128]))]),
        ("cube-cut-off", w, &[(&fov, json!(18.0))]),
        (
            "facelets-small",
            w,
            &[
                (&fov, json!(125.0)),
                ("tolerances.mount_turn_sigma_deg", json!(0.0)),
                ("tolerances.mount_shift_sigma_mm", json!(0.0)),
            ],
        ),
        ("mount-too-loose", w, &[("tolerances.mount_turn_sigma_deg", json!(0.8))]),
        ("out-of-focus", w, &[(&focus, json!(40.0)), (&high("f_number_ratio"), json!(1.0))]),
        ("hidden-not-unique", w, &[(&position, json!([127, 127, 127]))]),
    ]);
}

#[test]
fn nonsense_of_light_is_found() {
    let w = "workbench";
    let high = |field: &str| format!("cameras.high.{field}");
    let matrix = ["red", "green", "blue"].map(|c| high(&format!("colour_matrix_{c}_ratio")));
    let mut spot = json!(help::scene(w).file().lamps);
    (spot[0]["shape"], spot[0]["width_mm"]) = (json!("Disc"), json!(20.0));
    (spot[0]["position_mm"], spot[0]["flux_lm"]) = (json!([-152.4, 147, -193.6]), json!(200));
    all_found(&[
        ("lamp-too-bright", w, &[("lamps.panel.flux_lm", json!(800_000.0))]),
        ("lamp-lights-nothing", w, &[("lamps.panel.aim_mm", json!([0, 2000, 300]))]),
        ("face-in-the-dark", w, &[("surroundings.ambient_lux", json!(0.5))]),
        (
            "colours-close",
            w,
            &[
                ("lamps.panel.spectrum", json!("Thermal")),
                ("lamps.panel.cct_k", json!(1500.0)),
                ("lamps.panel.flux_lm", json!(3.0)),
                ("surroundings.ambient_lux", json!(0.0)),
            ],
        ),
        (
            "glare",
            w,
            &[
                ("lamps", spot),
                ("cube.finish", json!("Glossy")),
                ("surroundings.ambient_lux", json!(50.0)),
            ],
        ),
        (
            "flicker-shows",
            w,
            &[("lamps.panel.flicker_depth_share", json!(0.9)), (&high("exposure_ms"), json!(4.0))],
        ),
        ("exposure-clips", w, &[(&high("exposure_ms"), json!(200.0))]),
        ("exposure-wastes", w, &[(&high("exposure_ms"), json!(0.05))]),
        (
            "grey-is-tinted",
            w,
            &[
                (&high("white_balance"), json!("Fixed")),
                (&high("white_balance_red_ratio"), json!(9.0)),
                (&high("white_balance_blue_ratio"), json!(0.5)),
            ],
        ),
        (
            "colours-pale",
            w,
            &[
                (&matrix[0], json!([1, 0, 0])),
                (&matrix[1], json!([0, 1, 0])),
                (&matrix[2], json!([0, 0, 1])),
            ],
        ),
        ("saturation-off", w, &[(&high("saturation_ratio"), json!(0.0))]),
        ("brightness-off", w, &[(&high("brightness_share"), json!(-0.6))]),
        ("jpeg-coarse", w, &[(&high("jpeg_quality_percent"), json!(5))]),
        ("no-grey-patch", w, &[("fixtures.card.position_mm", json!([900, 0, 0]))]),
        ("read-noise-large", w, &[(&high("read_noise_e"), json!(3000.0))]),
        ("dark-fills-well", w, &[(&high("dark_current_e_per_s"), json!(200_000.0))]),
    ]);
}

#[test]
fn nonsense_of_shafts_is_found() {
    let f = "foyer_morning";
    let u = |field: &str| format!("{ROD}{field}");
    all_found(&[
        ("rod-wider-than-coupler", f, &[(&u("width_mm"), json!(20.0))]),
        ("coupler-fouls-neighbours", f, &[(&u("coupler_diameter_mm"), json!(30.0))]),
        ("motor-narrower-than-rod", f, &[(&u("motor_width_mm"), json!(6.0))]),
        ("shaft-not-fitted", f, &[(&u("fitted"), json!(false))]),
        ("shaft-weak", f, &[(&u("width_mm"), json!(4.0))]),
        ("shaft-soft", f, &[(&u("width_mm"), json!(4.0))]),
        ("stiffness-contradicts-strength", f, &[(&u("shear_modulus_gpa"), json!(80.0))]),
        ("twist-longer-than-rod", f, &[(&u("twisting_length_mm"), json!(200.0))]),
        (
            "infill-without-core",
            f,
            &[(&u("infill_share"), json!(0.2)), (&u("wall_mm"), json!(5.0))],
        ),
        ("homing-beyond-jam", f, &[("tolerances.homing_error_sigma_deg", json!(8.0))]),
        (
            "backlash-beyond-jam",
            f,
            &[(&u("backlash_deg"), json!(10.0)), ("cube.edge_radius_mm", json!(0.2))],
        ),
        (
            "encoder-beyond-jam",
            f,
            &[("tolerances.encoder_error_deg", json!(5.0)), ("cube.edge_radius_mm", json!(0.5))],
        ),
        ("wind-up-beyond-jam", f, &[(&u("width_mm"), json!(2.0))]),
        (
            "settle-beyond-jam",
            f,
            &[("handover.settle_window_deg", json!(10.0)), ("cube.edge_radius_mm", json!(0.5))],
        ),
        (
            "release-beyond-jam",
            f,
            &[("handover.policy", json!("Release")), ("handover.release_angle_deg", json!(45.0))],
        ),
    ]);
}

#[test]
fn nonsense_of_axes_is_found() {
    let f = "foyer_morning";
    all_found(&[
        ("settle-below-encoder", f, &[("drive.encoder_bits", json!(8))]),
        ("deadband-beyond-settle", f, &[("controller.deadband_deg", json!(2.0))]),
        ("beat-limit-short", f, &[("handover.beat_limit_ms", json!(10.0))]),
        ("speed-loop-too-quick", f, &[("controller.speed_gain_per_s", json!(50_000.0))]),
        ("position-loop-too-quick", f, &[("controller.position_gain_per_s", json!(5000.0))]),
        ("current-loop-slow", f, &[("controller.current_time_constant_ms", json!(8.0))]),
        ("hold-weak", f, &[("controller.hold_torque_share", json!(0.0))]),
        ("following-never-found", f, &[("detection.following_error_deg", json!(360.0))]),
        ("over-voltage-below-bus", f, &[("supply.over_voltage_v", json!(40.0))]),
        ("chopper-too-late", f, &[("supply.chopper_above_v", json!(30.0))]),
        ("chopper-never-off", f, &[("supply.chopper_hysteresis_v", json!(5.0))]),
        ("supply-weak", f, &[("supply.source_current_limit_a", json!(0.1))]),
        (
            "heat-limit-below-ambient",
            f,
            &[("drive.winding_limit_c", json!(30.0)), ("supply.ambient_c", json!(40.0))],
        ),
        ("commands-lost", f, &[("link.frame_loss_share", json!(0.7))]),
        (
            "latency-beyond-watchdog",
            f,
            &[("link.command_latency_ms", json!(90.0)), ("link.watchdog_ms", json!(20.0))],
        ),
        ("resend-too-early", f, &[("link.resend_after_ms", json!(0.1))]),
        ("jitter-beyond-latency", f, &[("link.command_jitter_sigma_ms", json!(40.0))]),
        ("clearance-contradicts-tension", f, &[("cube.clearance_mm", json!(1.0))]),
        (
            "host-slow",
            f,
            &[("host.transfer_mb_per_s", json!(0.1)), ("host.reading_ms", json!(60_000.0))],
        ),
    ]);
}

/// Every kind of finding has its nonsense above.
#[test]
fn every_kind_has_its_nonsense() {
    let own = help::read("tests/findings.rs");
    for kind in FindingKind::ALL {
        let name = format!("\"{}\",", kind.name());
        assert!(own.contains(&name), "{name}");
        assert!(!kind.meaning().is_empty());
    }
}

/// What we ship is as it should be, and so is the rig that `new` starts with.
#[test]
fn shipped_scenes_have_no_findings() {
    let folder = tempfile::tempdir().unwrap();
    let mut paths = help::files("scenes", "ron");
    paths.extend(help::files("engine/base/scene/data", "ron"));
    let shipped = paths.into_iter().map(|path| {
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        (name, Scene::parse(&std::fs::read_to_string(&path).unwrap(), "shipped").unwrap())
    });
    let scenes: Vec<(String, Scene)> = shipped.collect();
    assert!(scenes.len() >= 4);
    for file in checked(folder.path(), &scenes) {
        assert_eq!(file["findings"], json!([]), "{}", file["file"]);
    }
}

/// Findings are no errors, unless they are asked to be.
#[test]
fn findings_fail_only_where_asked() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = help::scene("workbench");
    let scene = scene.with("lamps.panel.flux_lm", json!(800_000.0)).unwrap();
    std::fs::write(at.join("bright.ron"), scene.to_ron()).unwrap();
    std::fs::write(at.join("fine.ron"), help::read("scenes/workbench.ron")).unwrap();
    let code = |arguments: &[&str]| help::call(at, arguments).code;
    assert_eq!(code(&["check", "bright.ron"]), 0);
    assert_eq!(code(&["check", "--strict", "bright.ron"]), 1);
    assert_eq!(code(&["check", "--strict", "fine.ron"]), 0);
    let call = help::call(at, &["check", "bright.ron"]);
    for part in ["bright.ron: fine", "lamp-too-bright", "lamps.panel.flux_lm", "800000 lm"] {
        assert!(call.stdout.contains(part), "{part}: {}", call.stdout);
    }
    // A script that cannot be read outweighs a finding.
    std::fs::write(at.join("s.rhai"), "let").unwrap();
    assert_eq!(code(&["check", "--strict", "bright.ron", "s.rhai"]), 2);
}
