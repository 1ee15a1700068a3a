//! Putting files in place, and what is done about a run that was killed while it did.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use dryturn_console::locked;
use dryturn_record::digest;

use super::held::TURN;
use super::journal::{Journal, Move};
use super::{
    Earlier, JOURNAL, LISTING, LISTING_TITLE, NEW, OLD, OutputFolder, PARTIAL, disk, fault,
};
use crate::failure::Failure;
use crate::say;

fn digest_of(path: &Path) -> Option<String> {
    fs::read(path).ok().map(|bytes| digest(&bytes))
}

impl OutputFolder {
    /// Moves all files into place. A file that no run wrote is never replaced; a
    /// file that was changed since it was written is never deleted. `record` is the hidden record
    /// of unfinished work that this finishes: it goes with it.
    pub(crate) fn commit(&mut self, earlier: Earlier, record: Option<&str>) -> Result<(), Failure> {
        let _turn = locked(&TURN);
        for name in self.staged.keys() {
            self.check_target(name)?;
        }
        let mut listed: BTreeMap<&str, &str> =
            self.staged.iter().map(|(name, staged)| (&**name, &*staged.hash)).collect();
        if earlier == Earlier::Keep {
            for (name, hash) in &self.before {
                listed.entry(name).or_insert(hash);
            }
        }
        let mut text = format!("{LISTING_TITLE}\n");
        listed.iter().for_each(|(name, hash)| text.push_str(&format!("{hash} {name}\n")));
        self.stage(LISTING, text.as_bytes())?;
        let journal = self.journal(earlier, record)?;
        self.write_down(&journal)?;
        if let Err(failure) = self.forward(&journal, false) {
            // What cannot be undone either waits for the next run.
            let _ = self.back(&journal);
            return Err(failure);
        }
        self.committed = true;
        self.end(&journal)
    }

    /// What a commit has to do: the listing goes away first and comes last.
    fn journal(&self, earlier: Earlier, record: Option<&str>) -> Result<Journal, Failure> {
        let mut away = Vec::new();
        let move_away = |name: &str, hash: String| Move {
            hash,
            from: name.to_owned(),
            to: format!("{OLD}/{name}"),
        };
        let listing = self.inside(LISTING)?;
        if let Some(hash) = digest_of(&listing) {
            away.push(move_away(LISTING, hash));
        }
        for (name, hash) in self.before.iter().filter(|(name, _)| *name != LISTING) {
            let Some(found) = digest_of(&self.inside(name)?) else { continue };
            let cleared = earlier == Earlier::Clear && found == *hash;
            if self.staged.contains_key(name) || cleared {
                away.push(move_away(name, found));
            }
        }
        let mut new: Vec<Move> = Vec::with_capacity(self.staged.len());
        for (name, staged) in self.staged.iter().filter(|(name, _)| *name != LISTING) {
            let (hash, from) = (staged.hash.clone(), staged.at.clone());
            new.push(Move { hash, from, to: name.clone() });
        }
        let staged = &self.staged[LISTING];
        let (hash, from) = (staged.hash.clone(), staged.at.clone());
        new.push(Move { hash, from, to: LISTING.to_owned() });
        Ok(Journal { away, new, record: record.map(str::to_owned) })
    }

    /// Waits until all files are on the disk, then writes the journal: from here on the commit
    /// will be finished.
    fn write_down(&self, journal: &Journal) -> Result<(), Failure> {
        let mut folders = BTreeSet::from([self.root.clone(), self.root.join(NEW)]);
        for moved in &journal.new {
            let path = self.inside(&moved.from)?;
            disk::sync(&path).map_err(|e| fault(&self.root.join(&moved.to), "be written", &e))?;
            folders.extend(path.parent().map(Path::to_owned));
        }
        let path = self.inside(JOURNAL)?;
        let written = self.inside(PARTIAL)?.join("journal-to-be");
        disk::write(&written, journal.text().as_bytes())
            .and_then(|()| disk::sync(&written))
            .and_then(|()| folders.iter().try_for_each(|folder| disk::sync_dir(folder)))
            .and_then(|()| disk::rename(&written, &path))
            .and_then(|()| disk::sync_dir(&self.root.join(PARTIAL)))
            .map_err(|e| fault(&path, "be written", &e))
            .inspect_err(|_| {
                // Nothing has moved yet, and nothing shall.
                let _ = disk::remove_file(&path);
            })
    }

    /// Moves what has not been moved yet; `checked` where somebody may have been here since.
    fn forward(&self, journal: &Journal, checked: bool) -> Result<(), Failure> {
        // New ones come after all old ones have gone.
        let mut waiting = Vec::with_capacity(journal.new.len());
        for moved in &journal.new {
            let from = self.inside(&moved.from)?;
            if !from.exists() {
                continue;
            }
            if checked && digest_of(&from).as_ref() != Some(&moved.hash) {
                return Err(Failure::input(format!("{}: is damaged", from.display())));
            }
            waiting.push((moved, from));
        }
        if waiting.len() == journal.new.len() {
            for moved in &journal.away {
                let from = self.inside(&moved.from)?;
                if !from.exists() {
                    continue;
                }
                if checked && digest_of(&from).as_ref() != Some(&moved.hash) {
                    let what = "was changed since a run began to replace it";
                    return Err(Failure::input(format!("{}: {what}", from.display())));
                }
                self.put(&from, &self.inside(&moved.to)?)?;
            }
            self.sync_parents(journal.away.iter().flat_map(|m| [&m.from, &m.to]))?;
        }
        for (moved, from) in waiting {
            let to = self.inside(&moved.to)?;
            if to.exists() {
                return Err(self.not_ours(&to));
            }
            self.put(&from, &to)?;
        }
        self.sync_parents(journal.new.iter().flat_map(|m| [&m.from, &m.to]))
    }

    fn put(&self, from: &Path, to: &Path) -> Result<(), Failure> {
        disk::create_dir_all(to.parent().unwrap_or(&self.root))
            .and_then(|()| disk::rename(from, to))
            .map_err(|e| fault(to, "be written", &e))
    }

    fn sync_parents<'a>(&self, names: impl Iterator<Item = &'a String>) -> Result<(), Failure> {
        let parents: BTreeSet<PathBuf> =
            names.filter_map(|name| Some(self.root.join(name).parent()?.to_owned())).collect();
        for folder in parents.iter().filter(|folder| folder.exists()) {
            disk::sync_dir(folder).map_err(|e| fault(folder, "be written", &e))?;
        }
        Ok(())
    }

    /// Undoes a commit: new files leave their places, old ones come back to theirs.
    fn back(&self, journal: &Journal) -> Result<(), Failure> {
        for moved in journal.new.iter().rev() {
            let (from, to) = (self.inside(&moved.from)?, self.inside(&moved.to)?);
            if !from.exists() && digest_of(&to).as_ref() == Some(&moved.hash) {
                self.put(&to, &from)?;
                self.clear_folders(&to);
            }
        }
        for moved in journal.away.iter().rev() {
            let (from, to) = (self.inside(&moved.from)?, self.inside(&moved.to)?);
            if to.exists() && !from.exists() {
                self.put(&to, &from)?;
            }
        }
        self.sync_parents(journal.away.iter().map(|m| &m.from))?;
        let path = self.inside(JOURNAL)?;
        disk::remove_file(&path).map_err(|e| fault(&path, "be cleared", &e))
    }

    /// What is left to do when all files are in their places.
    fn end(&self, journal: &Journal) -> Result<(), Failure> {
        for moved in &journal.away {
            self.clear_folders(&self.inside(&moved.from)?);
        }
        if let Some(record) = &journal.record {
            let path = self.inside(record)?;
            disk::remove_tree(&path).map_err(|e| fault(&path, "be cleared", &e))?;
        }
        let path = self.inside(JOURNAL)?;
        disk::remove_file(&path).map_err(|e| fault(&path, "be cleared", &e))
    }

    /// Removes the folders above a path that have become empty.
    fn clear_folders(&self, path: &Path) {
        for folder in path.ancestors().skip(1).take_while(|a| *a != self.root) {
            if !fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_none()) {
                break;
            }
            let _ = disk::remove_empty(folder);
        }
    }

    /// Finishes what a killed run was putting in place, or undoes it where somebody has
    /// changed what it needs.
    pub(super) fn recover(&self) -> Result<(), Failure> {
        let Some(journal) = self.read(JOURNAL)?.and_then(|text| Journal::parse(&text)) else {
            // Nothing had been moved.
            return Ok(());
        };
        let root = self.root.display();
        match self.forward(&journal, true) {
            Ok(()) => {
                self.end(&journal)?;
                say::message(&format!(
                    "{root}: a run was ended while its results were being put in place; they are \
                     now all there"
                ));
            }
            Err(why) => {
                self.back(&journal)?;
                say::message(&format!(
                    "{root}: a run was ended while its results were being put in place, and they \
                     cannot be ({why}); those from before stay"
                ));
            }
        }
        Ok(())
    }

    /// What earlier runs wrote: digests by name. Empty where there is no listing.
    pub(super) fn listing(&self) -> Result<BTreeMap<String, String>, Failure> {
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

    fn not_ours(&self, target: &Path) -> Failure {
        Failure::input(format!(
            "{}: is there already and was not written by this program; move it away or give \
             another --out",
            target.display()
        ))
    }

    /// Whether a file of this name may be put in place.
    pub(crate) fn check_target(&self, name: &str) -> Result<(), Failure> {
        let target = self.inside(name)?;
        let what = if target.is_dir() {
            "is a folder where a file of this run must go"
        } else if target.exists() && !self.before.contains_key(name) {
            return Err(self.not_ours(&target));
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
}
