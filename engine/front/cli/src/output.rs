//! The output folder: one run at a time, all files or none, nothing outside,
//! and nothing of anybody else's overwritten or deleted.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Component, Path, PathBuf};

use dryturn_rehearsal::ledger::digest;

use crate::failure::Failure;

const LOCK: &str = ".dryturn-lock";
const PARTIAL: &str = ".dryturn-partial";
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
    /// Digests of the files written so far, by name.
    written: BTreeMap<String, String>,
    /// Those of them that are in their places already.
    settled: BTreeSet<String>,
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
    /// Makes the folder where needed and takes it for this run.
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
            written: BTreeMap::new(),
            settled: BTreeSet::new(),
        };
        fs::create_dir_all(root).map_err(|e| fault(root, "be made an output folder", &e))?;
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
                folder.created.clear();
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
        let target = self.inside(name)?;
        let path = self.inside(PARTIAL)?.join(name);
        let parent = path.parent().unwrap_or(&self.root);
        let result = fs::create_dir_all(parent)
            .and_then(|()| File::create(&path))
            .and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_data()));
        result.map_err(|e| fault(&target, "be written", &e))?;
        self.written.insert(name.to_owned(), digest(bytes));
        Ok(())
    }

    /// Writes a file into its place at once, for work that is resumed after a kill: it is
    /// whole or not there. `own` says that a file of this name is this work's from
    /// before.
    pub(crate) fn settle(&mut self, name: &str, bytes: &[u8], own: bool) -> Result<(), Failure> {
        if !own {
            self.check_target(name, &self.listing()?)?;
        }
        let target = self.inside(name)?;
        let path = self.inside(PARTIAL)?.join("settling");
        if let Some(parent) = target.parent() {
            fs::create_dir_all(parent).map_err(|e| fault(parent, "be made a folder", &e))?;
        }
        fs::write(&path, bytes)
            .and_then(|()| fs::rename(&path, &target))
            .map_err(|e| fault(&target, "be written", &e))?;
        self.keep_settled(name, digest(bytes));
        Ok(())
    }

    /// Counts a file that this work settled before it was broken off.
    pub(crate) fn keep_settled(&mut self, name: &str, hash: String) {
        self.written.insert(name.to_owned(), hash);
        self.settled.insert(name.to_owned());
    }

    /// Leaves a settled file out of the list of what this run wrote.
    pub(crate) fn forget(&mut self, name: &str) {
        self.written.remove(name);
        self.settled.remove(name);
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
        let path = self.inside(name)?;
        match fs::remove_dir_all(&path) {
            Err(e) if e.kind() != ErrorKind::NotFound => Err(fault(&path, "be cleared", &e)),
            _ => Ok(()),
        }
    }

    /// Moves all files into place. A file that no run wrote is never replaced; a
    /// file that was changed since it was written is never deleted.
    pub(crate) fn commit(&mut self, earlier: Earlier) -> Result<(), Failure> {
        let before = self.listing()?;
        let written = std::mem::take(&mut self.written);
        let settled = std::mem::take(&mut self.settled);
        for name in written.keys().filter(|name| !settled.contains(*name)) {
            self.check_target(name, &before)?;
        }
        let stale: BTreeMap<&String, &String> =
            before.iter().filter(|(name, _)| !written.contains_key(*name)).collect();
        let mut listed = written.clone();
        if earlier == Earlier::Keep {
            listed.extend(stale.iter().map(|(&name, &hash)| (name.clone(), hash.clone())));
        }
        let mut text = format!("{LISTING_TITLE}\n");
        listed.iter().for_each(|(name, hash)| text.push_str(&format!("{hash} {name}\n")));
        self.write(LISTING, text.as_bytes())?;
        let moved = written.keys().filter(|name| !settled.contains(*name));
        for name in moved.map(String::as_str).chain([LISTING]) {
            let target = self.inside(name)?;
            if let Some(parent) = target.parent() {
                fs::create_dir_all(parent).map_err(|e| fault(parent, "be made a folder", &e))?;
            }
            let from = self.root.join(PARTIAL).join(name);
            fs::rename(&from, &target).map_err(|e| fault(&target, "be written", &e))?;
        }
        if earlier == Earlier::Clear {
            stale.into_iter().for_each(|(name, hash)| self.clear(name, hash));
        }
        self.committed = true;
        Ok(())
    }

    /// What earlier runs wrote: digests by name. Empty where there is no listing.
    fn listing(&self) -> Result<BTreeMap<String, String>, Failure> {
        let path = self.inside(LISTING)?;
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(e) if e.kind() == ErrorKind::NotFound => return Ok(BTreeMap::new()),
            Err(e) => return Err(fault(&path, "be read", &e)),
        };
        let mut lines = text.lines();
        if lines.next() != Some(LISTING_TITLE) {
            return Err(Failure::input(format!(
                "{}: is not a listing of this program; move it away",
                path.display()
            )));
        }
        let entry =
            |line: &str| line.split_once(' ').map(|(hash, name)| (name.into(), hash.into()));
        Ok(lines.filter_map(entry).collect())
    }

    fn check_target(&self, name: &str, before: &BTreeMap<String, String>) -> Result<(), Failure> {
        let target = self.inside(name)?;
        let what = if target.is_dir() {
            "is a folder where a file of this run must go"
        } else if target.exists() && !before.contains_key(name) {
            "is there already and was not written by this program"
        } else if target.ancestors().skip(1).take_while(|a| *a != self.root).any(Path::is_file) {
            "lies below a file, not a folder"
        } else {
            return Ok(());
        };
        Err(Failure::input(format!(
            "{}: {what}; move it away or give another --out",
            target.display()
        )))
    }

    /// Deletes a file of an earlier run if it is still as that run wrote it, and
    /// the folders that become empty.
    fn clear(&self, name: &str, hash: &str) {
        let Ok(path) = self.inside(name) else { return };
        if fs::read(&path).is_ok_and(|bytes| digest(&bytes) == hash) {
            let _ = fs::remove_file(&path);
            for folder in path.ancestors().skip(1).take_while(|a| *a != self.root) {
                // Refused, as it should be, while anything is left inside.
                let _ = fs::remove_dir(folder);
            }
        }
    }
}

impl Drop for OutputFolder {
    fn drop(&mut self) {
        if self.lock.is_some() {
            let _ = fs::remove_dir_all(self.root.join(PARTIAL));
        }
        if !self.committed && !self.created.is_empty() {
            // The folders were made for this run and nothing came of it.
            let _ = fs::remove_file(self.root.join(LOCK));
            self.created.iter().rev().for_each(|folder| drop(fs::remove_dir(folder)));
        }
    }
}
