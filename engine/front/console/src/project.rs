//! The project that a script lies in: all that it may read of.
//!
//! A script may be somebody else's. What it can read it can write into its output, and its
//! messages too. So it reads scenes, and the tables that scenes name, below one folder.

use std::path::{Component, Path, PathBuf};

use crate::files::text;

/// The folder by which a project is known.
const MARK: &str = "scenes";
/// What the system puts there are no files of a project, wherever its root is.
const NEVER: [&str; 3] = ["/dev", "/proc", "/sys"];

/// What a script may read of. All paths are without links.
pub struct Project {
    root: PathBuf,
    /// Where the script lies, which its paths are relative to.
    folder: PathBuf,
}

impl Project {
    /// The project of a script: below `root`, where that is given; else below the nearest
    /// folder upwards that holds a folder `scenes`; else below the script's own folder.
    ///
    /// # Errors
    /// One line: a folder that is not there.
    pub fn of_script(script: &Path, root: Option<&Path>) -> Result<Self, String> {
        let real = |path: &Path| {
            let path = if path.as_os_str().is_empty() { Path::new(".") } else { path };
            path.canonicalize().map_err(|error| format!("{}: {error}", path.display()))
        };
        // A link to a script leads to the script's own project.
        let folder = match script.canonicalize() {
            Ok(script) => script.parent().map(Path::to_owned).unwrap_or_default(),
            Err(_) => real(script.parent().unwrap_or(Path::new("")))?,
        };
        let marked = |folder: &&Path| folder.parent().is_some() && folder.join(MARK).is_dir();
        let root = match root {
            Some(root) => real(root)?,
            None => folder.ancestors().find(marked).unwrap_or(&folder).to_owned(),
        };
        Ok(Self { root, folder })
    }

    /// The text of a file that a script names, relative to the script's folder.
    ///
    /// # Errors
    /// One line: a path that leads out of the project, said without looking whether anything
    /// is there; no file; no text of at most 1 MiB.
    pub fn text(&self, path: &str) -> Result<String, String> {
        let file = self.inside(path)?;
        // By the name that the script gave it.
        text(&file).map_err(|error| error.replace(&file.display().to_string(), path))
    }

    fn inside(&self, path: &str) -> Result<PathBuf, String> {
        // What a script may catch and save does not tell where the project lies.
        let outside = || {
            format!(
                "{path:?} leads out of the project: scripts, and the scenes that they read, read \
                 below its root only: the nearest folder that holds a folder {MARK}, else the \
                 script's own, or --root DIR"
            )
        };
        let mut at = self.folder.clone();
        for part in Path::new(path).components() {
            match part {
                Component::Normal(part) => at.push(part),
                Component::CurDir => {}
                Component::ParentDir => {
                    at.pop();
                }
                Component::RootDir | Component::Prefix(_) => {
                    return Err(format!("{path:?} is an absolute path: must be relative"));
                }
            }
            // On the way, too: whoever leaves the project learns nothing of what is there.
            if !at.starts_with(&self.root) && !self.root.starts_with(&at) {
                return Err(outside());
            }
        }
        if !at.starts_with(&self.root) {
            return Err(outside());
        }
        let real = at.canonicalize().map_err(|error| format!("{path}: {error}"))?;
        if !real.starts_with(&self.root) || NEVER.iter().any(|folder| real.starts_with(folder)) {
            return Err(outside());
        }
        Ok(real)
    }
}
