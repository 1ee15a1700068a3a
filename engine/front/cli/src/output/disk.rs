//! What output does to the disk, one operation at a time, and a way for tests to make any of
//! them the last one.
//!
//! `DRYTURN_TEST_FAULT=KIND@N` makes the N-th operation, counted from 1, go wrong: `die` ends
//! the program there at once, in the middle of what was being written; `die-renaming` does so before
//! something gets another name, and counts nothing else; `full` lets that one and
//! all later ones that need space fail as on a full disk; `readonly` lets it and all later ones
//! fail as on a disk that has become read-only. Anything else in the variable is refused with
//! the first operation. Without the variable nothing is counted.

use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write as _};
use std::path::Path;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicUsize, Ordering};

const VARIABLE: &str = "DRYTURN_TEST_FAULT";

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Die,
    DieRenaming,
    Full,
    ReadOnly,
}

/// What an operation does, as far as faults are about that.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Does {
    TakesSpace,
    Renames,
    Removes,
}

/// What was asked for: nothing, a fault at an operation, or nonsense.
static ASKED: LazyLock<Option<Option<(Kind, usize)>>> = LazyLock::new(|| {
    let text = std::env::var_os(VARIABLE)?;
    Some(text.to_str().and_then(asked))
});
static DONE: AtomicUsize = AtomicUsize::new(0);

fn asked(text: &str) -> Option<(Kind, usize)> {
    let (kind, at) = text.split_once('@')?;
    let kind = match kind {
        "die" => Kind::Die,
        "die-renaming" => Kind::DieRenaming,
        "full" => Kind::Full,
        "readonly" => Kind::ReadOnly,
        _ => return None,
    };
    Some((kind, at.parse().ok().filter(|at| *at > 0)?))
}

/// Counts an operation; whether the program dies in the middle of it.
fn step(does: Does) -> io::Result<bool> {
    let Some(asked) = *ASKED else { return Ok(false) };
    let Some((kind, at)) = asked else {
        return Err(io::Error::other(format!(
            "{VARIABLE} must be die@N, die-renaming@N, full@N or readonly@N"
        )));
    };
    if kind == Kind::DieRenaming && does != Does::Renames {
        return Ok(false);
    }
    let number = DONE.fetch_add(1, Ordering::Relaxed) + 1;
    match kind {
        Kind::Die | Kind::DieRenaming => Ok(number == at),
        Kind::Full if number >= at && does == Does::TakesSpace => {
            Err(ErrorKind::StorageFull.into())
        }
        Kind::ReadOnly if number >= at => Err(ErrorKind::ReadOnlyFilesystem.into()),
        _ => Ok(false),
    }
}

/// An operation that is done or not.
fn whole(does: Does) -> io::Result<()> {
    if step(does)? {
        std::process::abort();
    }
    Ok(())
}

pub(crate) fn create_dir_all(path: &Path) -> io::Result<()> {
    if path.is_dir() {
        return Ok(());
    }
    whole(Does::TakesSpace)?;
    fs::create_dir_all(path)
}

/// A file with these bytes, in the place of any that was there.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    whole(Does::TakesSpace)?;
    let mut file = File::create(path)?;
    if step(Does::TakesSpace)? {
        let _ = file.write_all(&bytes[..bytes.len() / 2]);
        std::process::abort();
    }
    file.write_all(bytes)
}

/// Waits until a file's bytes are on the disk.
pub(crate) fn sync(path: &Path) -> io::Result<()> {
    whole(Does::TakesSpace)?;
    OpenOptions::new().write(true).open(path)?.sync_all()
}

/// Waits until a folder's names are on the disk; nothing where a system cannot say.
pub(crate) fn sync_dir(path: &Path) -> io::Result<()> {
    whole(Does::TakesSpace)?;
    if !cfg!(unix) {
        return Ok(());
    }
    match File::open(path).and_then(|folder| folder.sync_all()) {
        // Some network disks know no such thing.
        Err(error) if matches!(error.kind(), ErrorKind::InvalidInput | ErrorKind::Unsupported) => {
            Ok(())
        }
        result => result,
    }
}

pub(crate) fn rename(from: &Path, to: &Path) -> io::Result<()> {
    whole(Does::Renames)?;
    fs::rename(from, to)
}

/// Removes a file; fine where there is none.
pub(crate) fn remove_file(path: &Path) -> io::Result<()> {
    whole(Does::Removes)?;
    gone(fs::remove_file(path))
}

/// Removes a folder if it is empty.
pub(crate) fn remove_empty(path: &Path) -> io::Result<()> {
    whole(Does::Removes)?;
    fs::remove_dir(path)
}

/// Removes a folder and what is below it, links as links; fine where there is none.
pub(crate) fn remove_tree(path: &Path) -> io::Result<()> {
    let entries = match fs::read_dir(path) {
        Ok(entries) => entries,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(error),
    };
    for entry in entries {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            remove_tree(&entry.path())?;
        } else {
            remove_file(&entry.path())?;
        }
    }
    whole(Does::Removes)?;
    gone(fs::remove_dir(path))
}

fn gone(result: io::Result<()>) -> io::Result<()> {
    match result {
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
        result => result,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_are_asked_for_in_full() {
        assert!(matches!(asked("die@3"), Some((Kind::Die, 3))));
        assert!(matches!(asked("full@1"), Some((Kind::Full, 1))));
        assert!(matches!(asked("die-renaming@2"), Some((Kind::DieRenaming, 2))));
        for text in ["", "die", "die@", "die@0", "die@-1", "dies@3", "@3"] {
            assert!(asked(text).is_none(), "{text}");
        }
    }
}
