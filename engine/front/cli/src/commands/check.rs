//! `dryturn check SCENE-or-SCRIPT…`

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use dryturn_cube::Face;
use dryturn_rehearsal::{Finding, findings};
use dryturn_scene::file::Camera;
use dryturn_scene::{Rig, Scene, Visibility};
use serde_json::{Value as Json, json};

use crate::args::Shared;
use crate::commands::{Out, blind};
use crate::failure::Failure;
use crate::{input, say};

/// What a file comes to: the document's entry, and the lines that a person reads.
struct Checked {
    json: Json,
    lines: Vec<String>,
    findings: usize,
    /// Why the scene cannot do what it is there for, in a sentence without its full stop.
    objection: Option<String>,
}

pub(crate) fn run(files: &[PathBuf], strict: bool, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["check.json"])?;
    let mut results = Vec::new();
    let mut worst = 0;
    for file in files {
        match one(file) {
            Ok(checked) => {
                if !shared.json {
                    checked.lines.iter().try_for_each(|line| say::result(line))?;
                }
                if let Some(objection) = &checked.objection {
                    say::message(&format!("dryturn: {objection}"));
                }
                let wrong = checked.objection.is_some() || strict && checked.findings > 0;
                worst = worst.max(u8::from(wrong));
                results.push(checked.json);
            }
            Err(failure) => {
                say::failure(&failure);
                worst = worst.max(failure.exit_code());
                results.push(json!({
                    "file": file.display().to_string(), "fine": false,
                    "error": failure.to_string(), "errors": failure.messages(),
                }));
            }
        }
    }
    let document = json!({ "command": "check", "exit_code": worst, "files": results });
    out.keep(&document, "check.json")?;
    if shared.json {
        say::document(&document)?;
    }
    Ok(worst)
}

fn one(file: &Path) -> Result<Checked, Failure> {
    let name = file.display().to_string();
    match file.extension().and_then(|e| e.to_str()) {
        Some("ron") => Ok(scene(&name, &input::scene(file)?)),
        Some("rhai") => {
            dryturn_script::check(&name, &input::text(file)?).map_err(Failure::input)?;
            Ok(Checked {
                json: json!({ "file": name, "fine": true, "kind": "script" }),
                lines: vec![format!("{name}: fine (syntax and verbs; a run finds the rest)")],
                findings: 0,
                objection: None,
            })
        }
        _ => Err(Failure::input(format!("{name}: neither a scene (.ron) nor a script (.rhai)"))),
    }
}

fn scene(name: &str, scene: &Scene) -> Checked {
    let visibility = Visibility::of(scene);
    // By camera: its name, how many facelets it reads, and of which faces.
    let reads = |(i, camera): (usize, &Camera)| {
        let own = Rig::facelets_to_read().filter(|f| visibility.camera_of(*f) == Some(i));
        let faces: BTreeSet<usize> = own.clone().map(|f| f.face().index()).collect();
        let faces = faces.into_iter().map(|face| Face::from_index(face).to_string());
        (camera.name.clone(), own.count(), faces.collect::<Vec<String>>())
    };
    let cameras: Vec<(String, usize, Vec<String>)> =
        scene.file().cameras.iter().enumerate().map(reads).collect();
    let hidden: Vec<&str> = visibility.hidden().iter().map(|f| f.name()).collect();
    let found = findings(scene);
    let derived = scene.file().derived();
    let objection = blind(name, &visibility);
    let json = json!({
        "file": name, "fine": objection.is_none(), "kind": "scene", "name": scene.file().name,
        "cameras": cameras.iter().map(|(name, facelets, faces)| json!({
            "name": name, "facelets": facelets, "faces": faces,
        })).collect::<Vec<_>>(),
        "hidden": hidden, "findings": found.iter().map(Finding::json).collect::<Vec<_>>(),
        "derived": derived,
    });
    let seen: Vec<String> = cameras
        .iter()
        .map(|(name, count, faces)| {
            format!("camera {name} reads {count} facelets of {}", faces.join(" "))
        })
        .collect();
    let mut lines = vec![format!(
        "{name}: {}; {}; hidden: {}",
        if objection.is_none() { "fine" } else { "reads nothing" },
        seen.join("; "),
        if hidden.is_empty() { "none".to_owned() } else { hidden.join(" ") }
    )];
    lines.extend(
        derived.iter().map(|d| format!("  {} {} {} ({})", d.what, d.value, d.unit, d.from)),
    );
    lines.extend(found.iter().map(|finding| format!("{name}: {}", finding.sentence())));
    Checked { json, lines, findings: found.len(), objection }
}
