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
