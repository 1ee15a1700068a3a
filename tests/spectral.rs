//! Pictures that a spectral renderer made of a cube in lights that change, with measured
//! pigments, lamps and camera sensitivities, read through the program's file path: provenance
//! in `tests/reference/README.md`.

use std::path::Path;

use crate::{foreign, help};

/// Sub-set, group and faces of each scan.
fn truth(folder: &Path) -> Vec<[String; 3]> {
    let text = std::fs::read_to_string(folder.join("truth.csv")).unwrap();
    let cells = |line: &str| {
        let mut cells = line.splitn(3, ',').map(str::to_owned);
        core::array::from_fn(|_| cells.next().unwrap())
    };
    text.lines().skip(1).map(cells).collect()
}

/// In these lights a person names every facelet, and so must the reader. In the others it may
/// refuse, but not be wrong.
const READ: [(&str, &str); 11] = [
    ("a", "same"),
    ("a", "room_050"),
    ("a", "room_100"),
    ("a", "room_200"),
    ("a", "sun"),
    ("a", "dead"),
    ("a", "warm"),
    ("a", "jpeg"),
    ("a", "exp_4"),
    ("b", "same"),
    ("b", "exp_2"),
];

#[test]
fn cubes_in_light_that_has_really_changed_are_read_right_or_refused() {
    let folder = help::root().join("tests/reference/spectral");
    let scans = truth(&folder);
    assert_eq!(scans.len(), 14);
    let mut read = Vec::new();
    for [subset, group, faces] in &scans {
        let found = foreign::read(&folder.join(subset), "scene.ron", group);
        let what = format!("{subset}/{group}: {} {}", found["probability"], found["because"]);
        if found["readable"] == true {
            assert_eq!(found["faces"], *faces, "read wrong: {what}");
            read.push((subset.as_str(), group.as_str()));
        } else {
            assert!(found["because"].as_str().is_some_and(|why| !why.is_empty()), "{what}");
            assert!(!READ.contains(&(subset.as_str(), group.as_str())), "refused: {what}");
        }
    }
    assert!(READ.iter().all(|scan| read.contains(scan)), "{read:?}");
}

/// A sub-set's scene, read without a calibration, as a file in a folder.
fn blind_scene(subset: &str, folder: &Path) -> String {
    let scene = help::root().join("tests/reference/spectral").join(subset).join("scene.ron");
    let text = std::fs::read_to_string(scene).unwrap();
    let end = text.rfind(')').unwrap();
    let blind = folder.join("blind.ron");
    std::fs::write(&blind, format!("{}    reader: (method: Blind),\n)\n", &text[..end])).unwrap();
    blind.display().to_string()
}

/// Without a calibration some of the same pictures are read, in whatever light, and what is read
/// is right.
#[test]
fn some_are_read_without_a_calibration() {
    let folder = help::root().join("tests/reference/spectral");
    let blind = tempfile::tempdir().unwrap();
    let scans = truth(&folder);
    let mut read = Vec::new();
    for [subset, group, faces] in &scans {
        let scene = blind_scene(subset, blind.path());
        let picture = |camera: &str| {
            folder.join(subset).join(format!("{group}-{camera}.jpg")).display().to_string()
        };
        let (high, low) = (picture("high"), picture("low"));
        let run = help::call(&help::root(), &["read", "--json", "--scene", &scene, &high, &low]);
        let found: serde_json::Value = serde_json::from_str(&run.stdout).unwrap();
        assert_eq!(found["without_calibration"], true, "{}", run.stderr);
        assert_eq!(found["calibrated_under"], serde_json::Value::Null);
        if found["readable"] == true {
            assert_eq!(found["faces"], *faces, "{subset}/{group}: {}", found["probability"]);
            read.push((subset.as_str(), group.as_str()));
        }
    }
    for usual in [("a", "room_050"), ("a", "room_100"), ("a", "warm")] {
        assert!(read.contains(&usual), "{usual:?} is not among {read:?}");
    }
    assert!(read.len() >= 6, "{read:?}");
}

#[test]
fn a_calibration_that_nothing_would_look_at_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let blind = blind_scene("a", folder.path());
    let call = ["read", "--scene", &blind, "--calibration", "some.ron", "a.png", "b.png"];
    let run = help::call(&help::root(), &call);
    assert_eq!(run.code, 2);
    assert!(run.stderr.contains("reader.method is Blind"), "{}", run.stderr);
}
