//! `dryturn check SCENE-or-SCRIPT…`

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use dryturn_cube::Face;
use dryturn_record::documents::{
    CheckDocument, CheckedCamera, CheckedFile, DerivedRecord, Document, FindingRecord,
};
use dryturn_scene::file::Camera;
use dryturn_scene::{Rig, Scene, Visibility};
use dryturn_studies::findings;

use crate::commands::{Out, blind, issued};
use crate::failure::Failure;
use crate::shared::Shared;
use crate::{input, say};

/// What `check` takes.
#[derive(clap::Args)]
pub(crate) struct CheckArgs {
    /// Files
    #[arg(required = true, value_name = "SCENE-or-SCRIPT")]
    files: Vec<PathBuf>,
    /// End with 1 where a scene that can be run is strange
    #[arg(long)]
    strict: bool,
}

/// What a file comes to: the document's entry, and the lines that a person reads.
struct Checked {
    entry: CheckedFile,
    lines: Vec<String>,
    findings: usize,
    /// Why the scene cannot do what it is there for, in a sentence without its full stop.
    objection: Option<String>,
}

pub(crate) fn run(args: &CheckArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["check.json"])?;
    let mut results = Vec::new();
    let mut worst = 0;
    for file in &args.files {
        match one(file) {
            Ok(checked) => {
                if !shared.json {
                    checked.lines.iter().try_for_each(|line| say::result(line))?;
                }
                if let Some(objection) = &checked.objection {
                    say::message(&format!("dryturn: {objection}"));
                }
                let wrong = checked.objection.is_some() || args.strict && checked.findings > 0;
                worst = worst.max(u8::from(wrong));
                results.push(checked.entry);
            }
            Err(failure) => {
                say::failure(&failure);
                worst = worst.max(failure.exit_code());
                results.push(CheckedFile::Wrong {
                    file: file.display().to_string(),
                    fine: false,
                    error: failure.to_string(),
                    errors: failure.messages(),
                });
            }
        }
    }
    let document = issued(Document::Check(CheckDocument { exit_code: worst, files: results }));
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
                entry: CheckedFile::Script {
                    file: name.clone(),
                    fine: true,
                    kind: "script".to_owned(),
                },
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
    let reads = |(i, camera): (usize, &Camera)| {
        let own = Rig::facelets_to_read().filter(|f| visibility.camera_of(*f) == Some(i));
        let faces: BTreeSet<usize> = own.clone().map(|f| f.face().index()).collect();
        CheckedCamera {
            name: camera.name.clone(),
            facelets: own.count(),
            faces: faces.into_iter().map(Face::from_index).collect(),
        }
    };
    let cameras: Vec<CheckedCamera> = scene.file().cameras.iter().enumerate().map(reads).collect();
    let hidden: Vec<&str> = visibility.hidden().iter().map(|f| f.name()).collect();
    let found = findings(scene);
    let derived = scene.file().derived();
    let objection = blind(name, &visibility);
    let seen: Vec<String> = cameras
        .iter()
        .map(|camera| {
            let faces: Vec<String> = camera.faces.iter().map(Face::to_string).collect();
            let (name, count) = (&camera.name, camera.facelets);
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
    let entry = CheckedFile::Scene {
        file: name.to_owned(),
        fine: objection.is_none(),
        kind: "scene".to_owned(),
        name: scene.file().name.clone(),
        cameras,
        hidden: visibility.hidden().to_vec(),
        findings: found.iter().map(FindingRecord::of).collect(),
        derived: derived.iter().map(DerivedRecord::of).collect(),
    };
    Checked { entry, lines, findings: found.len(), objection }
}
