//! `dryturn new DIR`: a rig of one's own to begin with.

use std::fs;
use std::path::PathBuf;

use dryturn_record::documents::{Document, NewDocument};

use crate::commands::issued;
use crate::failure::Failure;
use crate::say;
use crate::shared::Shared;

/// What `new` takes.
#[derive(clap::Args)]
pub(crate) struct NewArgs {
    /// A folder that is empty or not there yet
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

/// What a new project holds, by its path in the folder.
const STARTER: [(&str, &str); 5] = [
    ("rig.ron", dryturn_scene::STARTER),
    ("rehearsal.rhai", include_str!("../starter/rehearsal.rhai")),
    ("README.md", include_str!("../starter/README.md")),
    (".github/workflows/rehearsal.yml", include_str!("../starter/rehearsal.yml")),
    (".gitignore", "dryturn-out\n"),
];

pub(crate) fn run(args: &NewArgs, shared: &Shared) -> Result<u8, Failure> {
    let folder = args.folder.as_path();
    if shared.out.is_some() {
        return Err(Failure::input("new takes its folder as an argument, not by --out"));
    }
    let fault = |error: std::io::Error| {
        Failure::input(format!("{}: cannot be made a project: {error}", folder.display()))
    };
    match fs::read_dir(folder) {
        Ok(mut entries) => {
            if let Some(first) = entries.next() {
                let first = first.map_err(fault)?.file_name();
                return Err(Failure::input(format!(
                    "{}: is not empty (it holds {}); name a folder that is empty or not there yet",
                    folder.display(),
                    first.display()
                )));
            }
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
        Err(error) => return Err(fault(error)),
    }
    // Made beside its place and moved there whole; a move onto an empty folder takes it over.
    let parent = match folder.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    };
    fs::create_dir_all(&parent).map_err(fault)?;
    let made = tempfile::Builder::new().prefix(".dryturn-new-").tempdir_in(&parent);
    let made = made.map_err(fault)?;
    let project = made.path().join("project");
    fs::create_dir(&project).map_err(fault)?;
    for (name, text) in STARTER {
        let path = project.join(name);
        path.parent().map_or(Ok(()), fs::create_dir_all).map_err(fault)?;
        fs::write(&path, text).map_err(fault)?;
    }
    fs::rename(&project, folder).map_err(fault)?;
    let names: Vec<&str> = STARTER.iter().map(|(name, _)| *name).collect();
    if shared.json {
        say::document(&issued(Document::New(NewDocument {
            folder: folder.display().to_string(),
            files: names.iter().map(|name| (*name).to_owned()).collect(),
        })))?;
    } else {
        say::result(&format!("{}: {}", folder.display(), names.join(", ")))?;
        say::message(&format!("next: cd {} && dryturn rehearse rehearsal.rhai", folder.display()));
    }
    Ok(0)
}
