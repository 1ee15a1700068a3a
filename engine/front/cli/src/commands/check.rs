//! `dryturn check SCENE-or-SCRIPT…`

use std::path::{Path, PathBuf};

use dryturn_reading::Patches;
use dryturn_scene::Rig;
use serde_json::{Value as Json, json};

use crate::args::Shared;
use crate::commands::keep;
use crate::failure::Failure;
use crate::{input, say};

pub(crate) fn run(files: &[PathBuf], shared: &Shared) -> Result<u8, Failure> {
    let mut results = Vec::new();
    let mut worst = 0;
    for file in files {
        let result = one(file).unwrap_or_else(|failure| {
            say::message(&format!("dryturn: {failure}"));
            worst = worst.max(failure.exit_code());
            let file = file.display().to_string();
            json!({ "file": file, "fine": false, "error": failure.to_string() })
        });
        if !shared.json && result["fine"] == true {
            say::result(&sentence(&result))?;
        }
        results.push(result);
    }
    let document = json!({ "command": "check", "exit_code": worst, "files": results });
    keep(&document, "check.json", shared)?;
    if shared.json {
        say::document(&document)?;
    }
    Ok(worst)
}

fn one(file: &Path) -> Result<Json, Failure> {
    let name = file.display().to_string();
    match file.extension().and_then(|e| e.to_str()) {
        Some("ron") => {
            let scene = input::scene(file)?;
            let patches = Patches::of(&scene);
            let cameras: Vec<Json> = scene
                .file()
                .cameras
                .iter()
                .enumerate()
                .map(|(i, camera)| {
                    let reads =
                        Rig::facelets_to_read().filter(|f| patches.camera_of(*f) == Some(i));
                    let faces: std::collections::BTreeSet<char> =
                        reads.clone().map(|f| f.face().letter()).collect();
                    json!({
                        "name": camera.name, "facelets": reads.count(),
                        "faces": faces.into_iter().collect::<String>(),
                    })
                })
                .collect();
            let hidden: Vec<&str> = patches.hidden().iter().map(|f| f.name()).collect();
            Ok(json!({
                "file": name, "fine": true, "kind": "scene", "name": scene.file().name,
                "cameras": cameras, "hidden": hidden, "derived": scene.file().derived(),
            }))
        }
        Some("rhai") => {
            dryturn_script::check(&name, &input::text(file)?).map_err(Failure::input)?;
            Ok(json!({ "file": name, "fine": true, "kind": "script" }))
        }
        _ => Err(Failure::input(format!("{name}: neither a scene (.ron) nor a script (.rhai)"))),
    }
}

fn sentence(result: &Json) -> String {
    let text = |value: &Json| value.as_str().unwrap_or_default().to_owned();
    let file = text(&result["file"]);
    let Some(cameras) = result["cameras"].as_array() else {
        return format!("{file}: fine (syntax; a run finds the rest)");
    };
    let seen: Vec<String> = cameras
        .iter()
        .map(|c| {
            format!(
                "camera {} reads {} facelets of {}",
                text(&c["name"]),
                c["facelets"],
                text(&c["faces"])
            )
        })
        .collect();
    let hidden: Vec<String> = result["hidden"].as_array().into_iter().flatten().map(text).collect();
    let derived = result["derived"].as_array().into_iter().flatten();
    let derived: String = derived
        .map(|d| {
            let [what, unit, from] = ["what", "unit", "from"].map(|key| text(&d[key]));
            format!("\n  {what} {} {unit} ({from})", d["value"])
        })
        .collect();
    format!(
        "{file}: fine; {}; hidden: {}{derived}",
        seen.join("; "),
        if hidden.is_empty() { "none".to_owned() } else { hidden.join(" ") }
    )
}
