//! The output folder: one run at a time, all files or none, nothing outside.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Component, Path, PathBuf};

use crate::failure::Failure;

const LOCK: &str = ".dryturn-lock";
const PARTIAL: &str = ".dryturn-partial";
/// What a run wrote, one path a line, so that the next run can clear it away.
const LISTING: &str = "files.txt";

/// A folder that this run holds until it is dropped. Files are first written to
/// a hidden folder inside and moved into place by [`OutputFolder::commit`].
pub(crate) struct OutputFolder {
    root: PathBuf,
    created: bool,
    committed: bool,
    lock: Option<File>,
    written: Vec<String>,
}

fn fault(path: &Path, doing: &str, error: &io::Error) -> Failure {
    let hint = match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            " (the output folder's disk or quota is full; nothing was changed)"
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            " (the output folder must be writable)"
        }
        _ => "",
    };
    Failure::input(format!("{}: cannot {doing}: {error}{hint}", path.display()))
}

impl OutputFolder {
    /// Makes the folder where needed and takes it for this run.
    pub(crate) fn open(root: &Path) -> Result<Self, Failure> {
        let created = !root.exists();
        fs::create_dir_all(root).map_err(|e| fault(root, "be made an output folder", &e))?;
        let mut folder = Self {
            root: root.to_owned(),
            created,
            committed: false,
            lock: None,
            written: Vec::new(),
        };
        let path = folder.inside(LOCK)?;
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path)
            .map_err(|e| fault(&path, "be written", &e))?;
        match lock.try_lock() {
            Ok(()) => folder.lock = Some(lock),
            Err(TryLockError::WouldBlock) => {
                folder.created = false;
                return Err(Failure::input(format!(
                    "{}: another run is writing to this output folder; wait for it or give another \
                     --out",
                    root.display()
                )));
            }
            Err(TryLockError::Error(e)) => return Err(fault(&path, "be locked", &e)),
        }
        let partial = folder.inside(PARTIAL)?;
        if partial.exists() {
            // Left by a run that was killed; the lock shows that it is gone.
            fs::remove_dir_all(&partial).map_err(|e| fault(&partial, "be cleared", &e))?;
        }
        fs::create_dir(&partial).map_err(|e| fault(&partial, "be written", &e))?;
        Ok(folder)
    }

    /// The path of a name below the folder; refuses what leads out of it.
    fn inside(&self, name: &str) -> Result<PathBuf, Failure> {
        let mut path = self.root.clone();
        for part in Path::new(name).components() {
            let Component::Normal(part) = part else {
                return Err(Failure::input(format!(
                    "{name}: leads out of the output folder {}",
                    self.root.display()
                )));
            };
            path.push(part);
            if fs::symlink_metadata(&path).is_ok_and(|found| found.file_type().is_symlink()) {
                return Err(Failure::input(format!(
                    "{}: is a symbolic link; files are only written inside the output folder",
                    path.display()
                )));
            }
        }
        Ok(path)
    }

    /// Writes a file, not yet in its place.
    pub(crate) fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        let target = self.inside(name)?;
        let path = self.inside(PARTIAL)?.join(name);
        let parent = path.parent().unwrap_or(&self.root);
        let result = fs::create_dir_all(parent)
            .and_then(|()| File::create(&path))
            .and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_data()));
        result.map_err(|e| fault(&target, "be written", &e))?;
        self.written.push(name.to_owned());
        Ok(())
    }

    /// Moves all files into place and clears away what the last run wrote and
    /// this one did not.
    pub(crate) fn commit(mut self) -> Result<Vec<String>, Failure> {
        let mut listing = self.written.clone();
        listing.push(LISTING.to_owned());
        listing.sort();
        self.write(LISTING, listing.iter().map(|name| format!("{name}\n")).collect::<String>().as_bytes())?;
        let before = fs::read_to_string(self.inside(LISTING)?).unwrap_or_default();
        // A folder where a file shall go, or the reverse, is found before anything moves.
        for name in &listing {
            let target = self.inside(name)?;
            if target.is_dir() {
                return Err(Failure::input(format!(
                    "{}: is a folder where the run's file {name} must go; move it away",
                    target.display()
                )));
            }
            if let Some(parent) = target.parent() {
                fs::create_dir_all(parent).map_err(|e| fault(parent, "be made a folder", &e))?;
            }
        }
        for name in &listing {
            let target = self.inside(name)?;
            let from = self.root.join(PARTIAL).join(name);
            fs::rename(&from, &target).map_err(|e| fault(&target, "be written", &e))?;
        }
        for stale in before.lines().filter(|name| !listing.iter().any(|new| new == name)) {
            if let Ok(path) = self.inside(stale) {
                let _ = fs::remove_file(path);
            }
        }
        self.committed = true;
        Ok(listing)
    }
}

impl Drop for OutputFolder {
    fn drop(&mut self) {
        if self.lock.is_some() {
            let _ = fs::remove_dir_all(self.root.join(PARTIAL));
        }
        if self.created && !self.committed {
            // The folder was made for this run and nothing came of it.
            let _ = fs::remove_file(self.root.join(LOCK));
            let _ = fs::remove_dir(&self.root);
        }
    }
}
