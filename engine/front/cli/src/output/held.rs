//! Folders that this program holds: by a lock each, and let go however the program ends.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use dryturn_console::locked;

use super::{JOURNAL, OutputFolder, PARTIAL, disk, fault};
use crate::failure::Failure;

const LOCK: &str = ".dryturn-lock";
/// So often a lock is tried for that another run takes away as it ends.
const ATTEMPTS: usize = 20;

/// Whoever writes has it. It is taken for good when the program is being ended.
pub(super) static TURN: Mutex<()> = Mutex::new(());
/// The folders that are held, to be left as they should be when the program is ended.
pub(super) static HELD: Mutex<Vec<Held>> = Mutex::new(Vec::new());

#[derive(Clone)]
pub(super) struct Held {
    pub(super) root: PathBuf,
    /// Folders made for this run, outermost first.
    pub(super) created: Vec<PathBuf>,
}

/// Leaves all folders that are held as a run that came to nothing does; waits until what is
/// just being written or put in place is. Nothing is written after it.
pub(crate) fn abandon() {
    std::mem::forget(locked(&TURN));
    locked(&HELD).iter().for_each(leave);
}

pub(super) fn leave(held: &Held) {
    if !held.root.join(JOURNAL).exists() {
        let _ = disk::remove_tree(&held.root.join(PARTIAL));
    }
    unlock(&held.root);
    // Refused, as it should be, where something has come of the run.
    held.created.iter().rev().for_each(|folder| drop(disk::remove_empty(folder)));
}

/// Removes the lock, which this run holds; other systems do not remove what is open.
fn unlock(root: &Path) {
    if cfg!(unix) {
        let _ = disk::remove_file(&root.join(LOCK));
    }
}

/// Whether a lock is still the file of its name: the run that had it before may have removed
/// it.
#[cfg(unix)]
fn is_at(lock: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    let id = |found: std::fs::Metadata| (found.dev(), found.ino());
    let (Ok(own), Ok(there)) = (lock.metadata(), std::fs::symlink_metadata(path)) else {
        return false;
    };
    id(own) == id(there)
}

#[cfg(not(unix))]
fn is_at(_: &File, _: &Path) -> bool {
    true
}

impl OutputFolder {
    /// `None` where another run has it.
    pub(super) fn take_lock(&self) -> Result<Option<File>, Failure> {
        let root = &self.root;
        let path = self.inside(LOCK)?;
        for attempt in 1.. {
            disk::create_dir_all(root).map_err(|e| fault(root, "be made an output folder", &e))?;
            let opened = OpenOptions::new().create(true).truncate(false).write(true).open(&path);
            let lock = match opened {
                // The run that had it took the folder away too.
                Err(e) if e.kind() == ErrorKind::NotFound && attempt < ATTEMPTS => continue,
                opened => opened.map_err(|e| fault(&path, "be written", &e))?,
            };
            match lock.try_lock() {
                Ok(()) if is_at(&lock, &path) || attempt >= ATTEMPTS => return Ok(Some(lock)),
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => break,
                Err(TryLockError::Error(e)) => return Err(fault(&path, "be locked", &e)),
            }
        }
        Ok(None)
    }
}
