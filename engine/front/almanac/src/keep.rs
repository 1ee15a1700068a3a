//! The folder of tables: what it holds, and building what it lacks.

use std::fs::{self, File, OpenOptions};
use std::io::{BufWriter, Write as _};
use std::path::{Path, PathBuf};

use dryturn_planning::{Metric, Planner, TableBytes, TableKind};

use crate::file::{MappedTable, write};

/// What the folder holds of one kind of table.
pub enum Held {
    /// Nothing.
    Missing,
    /// A file that cannot be trusted, and why.
    Damaged(String),
    /// The table.
    Ready(MappedTable),
}

/// A folder of tables.
#[derive(Clone, Debug)]
pub struct Almanac {
    folder: PathBuf,
}

impl Almanac {
    /// In the user's cache folder; `None` where there is none.
    #[must_use]
    pub fn of_user() -> Option<Self> {
        dirs::cache_dir().map(|folder| Self::in_folder(folder.join("dryturn")))
    }

    /// In a given folder, which need not exist yet.
    #[must_use]
    pub fn in_folder(folder: impl Into<PathBuf>) -> Self {
        Self { folder: folder.into() }
    }

    /// Where a table lies.
    #[must_use]
    pub fn path(&self, kind: TableKind) -> PathBuf {
        self.folder.join(format!("{kind}.table"))
    }

    /// Looks for a table; checks its header, its index and some of its pages.
    #[must_use]
    pub fn look(&self, kind: TableKind) -> Held {
        let path = self.path(kind);
        if !path.exists() {
            return Held::Missing;
        }
        match MappedTable::open(kind, &path) {
            Ok(table) => Held::Ready(table),
            Err(why) => Held::Damaged(format!("{} {why}", path.display())),
        }
    }

    /// Checks all of a table.
    ///
    /// # Errors
    /// In one line, why it cannot be trusted.
    pub fn verify(&self, kind: TableKind) -> Result<(), String> {
        match self.look(kind) {
            Held::Missing => Err(format!("{} is missing", self.path(kind).display())),
            Held::Damaged(why) => Err(why),
            Held::Ready(table) => {
                table.check().map_err(|why| format!("{} {why}", self.path(kind).display()))
            }
        }
    }

    /// Builds a table and puts it into its place, unless a whole one is there; waits
    /// where another process is building it, and then takes that one. `progress` is
    /// told the share done.
    ///
    /// # Errors
    /// In one line, what cannot be written.
    pub fn build(&self, kind: TableKind, progress: &(dyn Fn(f64) + Sync)) -> Result<(), String> {
        let place = self.path(kind);
        let fault = |what: &Path, error: std::io::Error| format!("{}: {error}", what.display());
        fs::create_dir_all(&self.folder).map_err(|error| fault(&self.folder, error))?;
        let lock_path = self.folder.join(format!("{kind}.lock"));
        let lock = OpenOptions::new().create(true).append(true).open(&lock_path);
        let lock: File = lock.map_err(|error| fault(&lock_path, error))?;
        // The system lets go of the lock when its process ends, however it ends.
        lock.lock().map_err(|error| fault(&lock_path, error))?;
        if self.verify(kind).is_ok() {
            return Ok(());
        }
        let table = kind.build(progress);
        // Under the lock: what a killed build left here is written over.
        let partial = self.folder.join(format!("{kind}.partial"));
        let written = (|| {
            let mut out = BufWriter::new(File::create(&partial)?);
            write(kind, &table, &mut out)?;
            out.flush()?;
            out.get_ref().sync_all()?;
            fs::rename(&partial, &place)
        })();
        written.map_err(|error| {
            let _ = fs::remove_file(&partial);
            fault(&place, error)
        })
    }

    /// Hands a planner the tables of a metric, where both are there. `whole` checks
    /// every page first, as proofs need.
    ///
    /// # Errors
    /// In one line, why a table that is there cannot be trusted.
    pub fn lend(&self, planner: &Planner, metric: Metric, whole: bool) -> Result<bool, String> {
        let mut tables: Vec<TableBytes> = Vec::new();
        for kind in TableKind::of(metric) {
            match self.look(kind) {
                Held::Missing => return Ok(false),
                Held::Damaged(why) => return Err(why),
                Held::Ready(table) => {
                    if whole {
                        let place = self.path(kind);
                        table.check().map_err(|why| format!("{} {why}", place.display()))?;
                    }
                    tables.push(Box::new(table));
                }
            }
        }
        let Ok(both) = <[TableBytes; 2]>::try_from(tables) else { return Ok(false) };
        planner.use_large(metric, both).map(|()| true)
    }
}

#[cfg(test)]
mod tests {
    use dryturn_planning::Leg;

    use super::*;

    /// Writes a table of noise where a real one belongs: the file is what is tested.
    fn fake(almanac: &Almanac, kind: TableKind) -> Vec<u8> {
        let table: Vec<u8> = (0..kind.bytes()).map(|i| (i * 31 % 251) as u8).collect();
        fs::create_dir_all(&almanac.folder).unwrap();
        let mut out = BufWriter::new(File::create(almanac.path(kind)).unwrap());
        write(kind, &table, &mut out).unwrap();
        out.flush().unwrap();
        table
    }

    #[test]
    fn what_is_damaged_is_not_trusted() {
        let folder = tempfile::tempdir().unwrap();
        let almanac = Almanac::in_folder(folder.path().join("deep/tables"));
        let kind = TableKind { metric: Metric::Turns, leg: Leg::Arrange };
        assert!(matches!(almanac.look(kind), Held::Missing));
        let table = fake(&almanac, kind);
        let Held::Ready(ready) = almanac.look(kind) else { panic!("a whole table is ready") };
        assert!(ready.as_ref() == table);
        drop(ready);
        almanac.verify(kind).unwrap();
        let path = almanac.path(kind);
        let whole = fs::read(&path).unwrap();
        let refused = |bytes: &[u8], wanted: &str| {
            fs::write(&path, bytes).unwrap();
            match almanac.look(kind) {
                Held::Damaged(why) => assert!(why.contains(wanted), "{why}"),
                _ => panic!("trusted, though it {wanted}"),
            }
        };
        refused(&whole[..whole.len() - 1], "bytes, not");
        refused(&[&whole[..], b"x"].concat(), "bytes, not");
        let changed = |at: usize| {
            let mut bytes = whole.clone();
            bytes[at] ^= 1;
            bytes
        };
        refused(&changed(14), "another version");
        refused(&changed(20), "damaged header");
        refused(&changed(100), "damaged header");
        refused(&changed(whole.len() - 1), "damaged in page");
        // A page that is not sampled: only the whole check finds it.
        fs::write(&path, changed(whole.len() / 2 + 3 * (1 << 16))).unwrap();
        assert!(matches!(almanac.look(kind), Held::Ready(_)));
        assert!(almanac.verify(kind).unwrap_err().contains("damaged in page"));
    }

    /// A table of another kind in the place of this one, though whole, is refused.
    #[test]
    fn a_table_of_another_kind_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let almanac = Almanac::in_folder(folder.path());
        let turns = TableKind { metric: Metric::Turns, leg: Leg::Arrange };
        let beats = TableKind { metric: Metric::Beats, leg: Leg::Arrange };
        fake(&almanac, turns);
        fs::rename(almanac.path(turns), almanac.path(beats)).unwrap();
        assert!(matches!(almanac.look(beats), Held::Damaged(_)));
    }
}
