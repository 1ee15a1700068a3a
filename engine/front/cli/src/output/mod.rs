//! The output folder: one run at a time, all files or none, nothing outside,
//! and nothing of anybody else's overwritten or deleted.
//!
//! New files wait in a hidden folder until all of them are there and on the disk; then a
//! journal says what goes where, the files of an earlier run that are replaced or cleared go
//! away, and the new ones move in, the listing last. So at every moment the files in their
//! places are those of one run: all of them where the listing is there, some of them while it is
//! not. A run that was killed on the way is finished, or undone where that cannot be, by the
//! next command that opens the folder. What is promised is that order; that nobody sees the
//! moment itself is not, for no system moves several files at once.

mod commit;
pub(crate) mod disk;
mod held;
mod journal;

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::path::{Component, Path, PathBuf};

use dryturn_console::locked;
use dryturn_record::digest;

pub(crate) use self::held::abandon;
use self::held::{HELD, Held, TURN, leave};
use crate::failure::Failure;

const PARTIAL: &str = ".dryturn-partial";
const NEW: &str = ".dryturn-partial/new";
const OLD: &str = ".dryturn-partial/old";
const JOURNAL: &str = ".dryturn-partial/journal";
/// What runs wrote here: a title, then SHA-256 and path, one file a line.
const LISTING: &str = ".dryturn-files";
const LISTING_TITLE: &str = "files that dryturn wrote here, version 1";
/// A folder that this run holds until it is dropped. Files are first written to
/// a hidden folder inside and moved into place by [`OutputFolder::commit`].
pub(crate) struct OutputFolder {
    root: PathBuf,
    /// Folders made for this run, outermost first.
    created: Vec<PathBuf>,
    committed: bool,
    lock: Option<File>,
    /// What earlier runs wrote: digests by name.
    before: BTreeMap<String, String>,
    /// What waits to be put in place, by name.
    staged: BTreeMap<String, Staged>,
}

/// A file that waits.
struct Staged {
    hash: String,
    /// Where, below the folder.
    at: String,
}

/// Whether a commit clears away files of earlier runs that it does not replace.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Earlier {
    /// They belong to an earlier run of the same script.
    Clear,
    /// They are another command's.
    Keep,
}

fn fault(path: &Path, doing: &str, error: &io::Error) -> Failure {
    let hint = match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            " (the output folder's disk or quota is full)"
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem | ErrorKind::NotFound => {
            " (the output folder must be writable)"
        }
        _ => "",
    };
    Failure::input(format!("{}: cannot {doing}: {error}{hint}", path.display()))
}

impl OutputFolder {
    /// Makes the folder where needed and takes it for this run; finishes or undoes what a
    /// killed one has left.
    pub(crate) fn open(root: &Path) -> Result<Self, Failure> {
        if fs::metadata(root).is_ok_and(|found| !found.is_dir()) {
            return Err(Failure::input(format!("{}: is a file, not a folder", root.display())));
        }
        let missing = root.ancestors().take_while(|a| !a.as_os_str().is_empty() && !a.exists());
        let mut created: Vec<PathBuf> = missing.map(Path::to_owned).collect();
        created.reverse();
        let mut folder = Self {
            root: root.to_owned(),
            created,
            committed: false,
            lock: None,
            before: BTreeMap::new(),
            staged: BTreeMap::new(),
        };
        let turn = locked(&TURN);
        let taken = folder.take();
        // A folder that could not be taken is dropped, which takes its turn.
        drop(turn);
        taken.map(|()| folder)
    }

    fn take(&mut self) -> Result<(), Failure> {
        self.lock = self.take_lock()?;
        if self.lock.is_none() {
            self.created.clear();
            return Err(Failure::input(format!(
                "{}: another run is writing to this output folder; wait for it or give another \
                 --out",
                self.root.display()
            )));
        }
        locked(&HELD).push(Held { root: self.root.clone(), created: self.created.clone() });
        let partial = self.inside(PARTIAL)?;
        if partial.exists() {
            // Left by a run that was killed; the lock shows that it is gone.
            self.recover()?;
            disk::remove_tree(&partial).map_err(|e| fault(&partial, "be cleared", &e))?;
        }
        let new = self.inside(NEW)?;
        disk::create_dir_all(&new).map_err(|e| fault(&partial, "be written", &e))?;
        self.before = self.listing()?;
        Ok(())
    }

    /// The path of a name below the folder; refuses what leads out of it and
    /// what is neither a file nor a folder.
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
            let Ok(found) = fs::symlink_metadata(&path) else { continue };
            let what = if found.is_symlink() {
                "a symbolic link; files are only written inside the output folder"
            } else if !found.is_file() && !found.is_dir() {
                "neither a file nor a folder; move it away"
            } else {
                continue;
            };
            return Err(Failure::input(format!("{}: is {what}", path.display())));
        }
        Ok(path)
    }

    /// Writes a file, not yet in its place.
    pub(crate) fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        let _turn = locked(&TURN);
        self.stage(name, bytes)
    }

    fn stage(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        let target = self.inside(name)?;
        let at = format!("{NEW}/{name}");
        let path = self.inside(&at)?;
        let parent = path.parent().unwrap_or(&self.root);
        disk::create_dir_all(parent)
            .and_then(|()| disk::write(&path, bytes))
            .map_err(|e| fault(&target, "be written", &e))?;
        self.staged.insert(name.to_owned(), Staged { hash: digest(bytes), at });
        Ok(())
    }

    /// Writes a file of a hidden record at once: it is whole or not there, and where it is to
    /// last, on the disk before anything relies on it.
    pub(crate) fn keep(&self, name: &str, bytes: &[u8], lasting: bool) -> Result<(), Failure> {
        let _turn = locked(&TURN);
        let target = self.inside(name)?;
        let path = self.inside(PARTIAL)?.join("settling");
        let parent = target.parent().unwrap_or(&self.root);
        disk::create_dir_all(parent)
            .and_then(|()| disk::write(&path, bytes))
            .and_then(|()| if lasting { disk::sync(&path) } else { Ok(()) })
            .and_then(|()| disk::rename(&path, &target))
            .map_err(|e| fault(&target, "be written", &e))
    }

    /// A file of a hidden record is to be put in place under this name.
    pub(crate) fn adopt(&mut self, name: &str, at: String, hash: String) {
        self.staged.insert(name.to_owned(), Staged { hash, at });
    }

    /// Digests of what this run has written, by name.
    pub(crate) fn written(&self) -> BTreeMap<String, String> {
        let own = self.staged.iter().filter(|(name, _)| *name != LISTING);
        own.map(|(name, staged)| (name.clone(), staged.hash.clone())).collect()
    }

    /// The folder itself.
    pub(crate) fn root(&self) -> &Path {
        &self.root
    }

    /// What a file below the folder holds; `None` where there is none.
    pub(crate) fn read(&self, name: &str) -> Result<Option<Vec<u8>>, Failure> {
        let path = self.inside(name)?;
        match fs::read(&path) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
            Err(e) => Err(fault(&path, "be read", &e)),
        }
    }

    /// Deletes a folder of this program's own below this one.
    pub(crate) fn remove_own(&self, name: &str) -> Result<(), Failure> {
        let _turn = locked(&TURN);
        let path = self.inside(name)?;
        disk::remove_tree(&path).map_err(|e| fault(&path, "be cleared", &e))
    }
}

impl Drop for OutputFolder {
    fn drop(&mut self) {
        if self.lock.is_none() {
            self.created.iter().rev().for_each(|folder| drop(disk::remove_empty(folder)));
            return;
        }
        let _turn = locked(&TURN);
        locked(&HELD).retain(|held| held.root != self.root);
        let created = if self.committed { Vec::new() } else { self.created.clone() };
        leave(&Held { root: self.root.clone(), created });
    }
}
