//! Pictures that another renderer made, of a rig with a light and a sensor of its own, read
//! through the program's file path: provenance in `tests/reference/README.md`.

use std::path::Path;

use crate::help;

/// Faces that the pictures show, by number.
fn truth(folder: &Path) -> Vec<(String, String)> {
    let text = std::fs::read_to_string(folder.join("truth.csv")).unwrap();
    let cells = |line: &str| {
        let (name, rest) = line.split_once(',').unwrap();
        let faces = rest.split(',').find(|cell| cell.contains("U=")).unwrap();
        (name.trim().to_owned(), faces.trim_matches('"').to_owned())
    };
    text.lines().skip(1).map(cells).collect()
}

/// What the program says of a scan whose pictures are `SCAN-high.jpg` and `SCAN-low.jpg`,
/// calibrated on the solved cube in the same folder.
pub(crate) fn read(folder: &Path, scene: &str, scan: &str) -> serde_json::Value {
    let file = |name: String| folder.join(name).display().to_string();
    let mut call = ["read", "--json", "--scene"].map(str::to_owned).to_vec();
    call.push(file(scene.to_owned()));
    for mounting in 1..=6 {
        for camera in ["high", "low"] {
            call.extend(["--solved".into(), file(format!("solved-{mounting}-{camera}.jpg"))]);
        }
    }
    call.extend(["high", "low"].map(|camera| file(format!("{scan}-{camera}.jpg"))));
    let call: Vec<&str> = call.iter().map(String::as_str).collect();
    let run = help::call(&help::root(), &call);
    serde_json::from_str(&run.stdout).unwrap()
}

#[test]
fn cubes_that_another_renderer_drew_are_read_right() {
    let folder = help::root().join("tests/reference/foreign");
    let truth = truth(&folder);
    assert_eq!(truth.len(), 6);
    for (name, faces) in truth {
        let found = read(&folder, "foreign.ron", &name);
        assert_eq!(found["faces"], faces, "{name}: {}", found["because"]);
        assert!(found["probability"].as_f64().unwrap() > 0.99, "{name}");
    }
}
