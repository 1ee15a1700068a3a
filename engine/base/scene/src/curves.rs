//! Measured curves: tables over wavelength that a scene names by file.

use std::collections::BTreeMap;
use std::sync::Arc;

use dryturn_units::table::{rows, shown};

use crate::fault::{Faults, FieldError};
use crate::file::{SceneFile, Spectrum};

/// Where a lamp must have power.
const VISIBLE_NM: core::ops::RangeInclusive<f64> = 420.0..=680.0;
/// Most wavelengths of a table.
const MOST_ROWS: usize = 2000;

/// Where the text of files beside a scene comes from: stages and base rooms open no
/// files themselves.
pub trait Files: Send + Sync {
    /// The text of a file, by its path as the scene has it.
    ///
    /// # Errors
    /// Why it cannot be had.
    fn text(&self, path: &str) -> Result<String, String>;
}

/// For scenes that name no files.
pub struct NoFiles;

impl Files for NoFiles {
    fn text(&self, _: &str) -> Result<String, String> {
        Err("this scene was given without its folder and can name no files".to_owned())
    }
}

/// Columns of values over wavelength.
#[derive(Clone, Debug, PartialEq)]
pub struct CurveTable {
    /// Wavelengths, nm, ascending, from 200 to 2000; at least two.
    pub nm: Vec<f64>,
    /// Values by column, at least 0, in the order of the names asked for.
    pub columns: Vec<Vec<f64>>,
}

/// What a table is for: its columns and their greatest value.
struct Wanted {
    columns: &'static [&'static str],
    most: f64,
}

const POWER: Wanted = Wanted { columns: &["power"], most: 1e12 };
const PIGMENTS: Wanted =
    Wanted { columns: &["white", "yellow", "orange", "red", "green", "blue"], most: 1.0 };
const SENSOR: Wanted = Wanted { columns: &["red", "green", "blue"], most: 1.0 };

impl CurveTable {
    /// Reads a table: a header `nm,…`, then a line for each wavelength. Empty lines
    /// and lines that start with `#` are passed over.
    fn parse(text: &str, wanted: &Wanted) -> Result<Self, String> {
        let mut rows = rows(text);
        let header = format!("nm,{}", wanted.columns.join(","));
        let found = rows.next().ok_or_else(|| format!("empty: must start with {header}"))?;
        if found.cells.join(",") != header {
            // Not quoted: it may be any file.
            let line = found.line;
            return Err(format!("line {line}: the header is another one: must be {header}"));
        }
        let mut table = Self { nm: Vec::new(), columns: vec![Vec::new(); wanted.columns.len()] };
        for row in rows {
            let line = row.line;
            if table.nm.len() == MOST_ROWS {
                return Err(format!("line {line}: more than {MOST_ROWS} wavelengths"));
            }
            let (found, columns) = (row.cells.len(), 1 + wanted.columns.len());
            if found != columns {
                return Err(format!("line {line}: {found} values: must be {columns}"));
            }
            let value = |cell: usize, name: &str, low: f64, high: f64| {
                row.number(cell, low, high).ok_or_else(|| {
                    let shown = shown(row.cells[cell], 20);
                    format!("line {line}: {name} is {shown:?}: must be {low} to {high}")
                })
            };
            let nm = value(0, "nm", 200.0, 2000.0)?;
            if table.nm.last().is_some_and(|&last| nm <= last) {
                return Err(format!("line {line}: nm is {nm}: must be above the line before"));
            }
            table.nm.push(nm);
            for (i, name) in wanted.columns.iter().enumerate() {
                table.columns[i].push(value(i + 1, name, 0.0, wanted.most)?);
            }
        }
        match (table.nm.first(), table.nm.last()) {
            (Some(first), Some(last)) if *first <= 420.0 && *last >= 680.0 => {}
            (Some(first), Some(last)) if first < last => {
                return Err(format!(
                    "covers {first} to {last} nm: must cover 420 to 680 nm at least"
                ));
            }
            _ => {
                let found = table.nm.len();
                return Err(format!("{found} wavelengths: must be at least 2"));
            }
        }
        for (name, column) in wanted.columns.iter().zip(&table.columns) {
            let visible = |(nm, value): (&f64, &f64)| VISIBLE_NM.contains(nm) && *value > 0.0;
            if wanted.most > 1.0 && !table.nm.iter().zip(column).any(visible) {
                let (low, high) = (VISIBLE_NM.start(), VISIBLE_NM.end());
                return Err(format!(
                    "{name} is 0 from {low} to {high} nm: a lamp must give light that is seen"
                ));
            }
        }
        Ok(table)
    }
}

/// The tables of a scene, by path.
pub(crate) type Curves = BTreeMap<String, Arc<CurveTable>>;

/// Fields that name a table, with what it is for; only those that are used.
fn named(file: &SceneFile) -> Vec<(String, &str, Wanted)> {
    let mut named = Vec::new();
    if !file.cube.pigments_csv.is_empty() {
        named.push(("cube.pigments_csv".to_owned(), &*file.cube.pigments_csv, PIGMENTS));
    }
    for (i, camera) in file.cameras.iter().enumerate() {
        if !camera.sensor_csv.is_empty() {
            named.push((format!("cameras[{i}].sensor_csv"), &*camera.sensor_csv, SENSOR));
        }
    }
    for (i, lamp) in file.lamps.iter().enumerate() {
        if lamp.spectrum == Spectrum::Measured {
            named.push((format!("lamps[{i}].spectrum_csv"), &*lamp.spectrum_csv, POWER));
        }
    }
    let room = &file.surroundings;
    if room.ambient_spectrum == Spectrum::Measured {
        let field = "surroundings.ambient_spectrum_csv".to_owned();
        named.push((field, &*room.ambient_spectrum_csv, POWER));
    }
    named
}

/// Reads every table that a scene names, but for those of `known`: a file that changes
/// meanwhile changes no scene.
pub(crate) fn load(
    file: &SceneFile,
    files: &dyn Files,
    known: &Curves,
    found: &mut Faults,
) -> Curves {
    let mut curves = Curves::new();
    for (field, path, wanted) in named(file) {
        if !found.sound(&[&field]) {
            continue;
        }
        if let Err(why) = add(&mut curves, (files, known), path, &wanted) {
            let (columns, most) = (wanted.columns.join(", "), wanted.most);
            let allowed =
                format!("a CSV file with columns nm, {columns}, values 0 to {most}: {why}");
            found.push(FieldError::new(field, format!("{path:?}"), allowed));
        }
    }
    curves
}

fn add(
    curves: &mut Curves,
    (files, known): (&dyn Files, &Curves),
    path: &str,
    wanted: &Wanted,
) -> Result<(), String> {
    if path.is_empty() {
        return Err("no file is named".to_owned());
    }
    let read = || Ok::<_, String>(Arc::new(CurveTable::parse(&files.text(path)?, wanted)?));
    let known = known.get(path).filter(|table| table.columns.len() == wanted.columns.len());
    let table = known.cloned().map_or_else(read, Ok)?;
    // One file may serve several fields, all of one kind.
    let columns = table.columns.len();
    let before = curves.insert(path.to_owned(), table);
    if before.is_some_and(|before| before.columns.len() != columns) {
        return Err("the same file is named for something else".to_owned());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_are_read() {
        let text = "# made up\nnm, power\n\n400,1\n 500 , 2.5\n700,0\n";
        let table = CurveTable::parse(text, &POWER).unwrap();
        assert_eq!(table.nm, [400.0, 500.0, 700.0]);
        assert_eq!(table.columns, [[1.0, 2.5, 0.0]]);
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        let fails = |text: &str| CurveTable::parse(text, &POWER).unwrap_err();
        assert_eq!(fails(""), "empty: must start with nm,power");
        assert!(
            fails("wl,power\n").starts_with("line 1: the header is another one: must be nm,power")
        );
        assert_eq!(fails("nm,power\n400,1\n"), "1 wavelengths: must be at least 2");
        assert!(fails("nm,power\n400,1\n300,2\n").starts_with("line 3: nm is 300"));
        assert!(fails("nm,power\n400,-1\n").starts_with("line 2: power is \"-1\""));
        assert!(fails("nm,power\n400,nan\n").contains("must be 0 to"));
        assert!(fails("nm,power\n400,1,2\n").starts_with("line 2: 3 values: must be 2"));
        assert!(fails("nm,power\n500,1\n600,1\n").starts_with("covers 500 to 600 nm"));
        assert!(fails("nm,power\n400,0\n700,0\n").starts_with("power is 0 from 420 to 680 nm"));
        let pigments = "nm,white,yellow,orange,red,green,blue\n400,0,0,0,1.1,0,0\n";
        let error = CurveTable::parse(pigments, &PIGMENTS).unwrap_err();
        assert!(error.starts_with("line 2: red is \"1.1\": must be 0 to 1"), "{error}");
    }
}
