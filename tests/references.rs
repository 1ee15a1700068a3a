//! Against other programs and published figures: every JSON file of
//! `tests/reference/`, or of the folder that `DRYTURN_REFERENCES` names.
//!
//! A group, or a key of one, that nothing checks fails.

mod closed_loop;
mod drive;
mod joint;
mod motor;
mod optics;

use std::cell::Cell;
use std::io::Write as _;
use std::path::PathBuf;

use serde_json::Value as Json;

use crate::help;

/// What became of a group of cases.
pub(crate) enum Checked {
    /// All cases; the expected keys that nothing checks yet.
    All { cases: usize, keys_left: Vec<String>, worst: f64 },
    /// Nothing checks such a group yet.
    NotYet { cases: usize },
}

pub(crate) fn number(value: &Json) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

pub(crate) fn numbers(value: &Json) -> Vec<f64> {
    value.as_array().unwrap_or_else(|| panic!("{value} is no list")).iter().map(number).collect()
}

pub(crate) fn vector(value: &Json) -> dryturn_geometry::DVec3 {
    dryturn_geometry::DVec3::from_slice(&numbers(value))
}

thread_local! {
    /// The largest error of the present group, as a share of what is allowed.
    static WORST: Cell<f64> = const { Cell::new(0.0) };
}

/// Fails unless `found` is within the larger of the two tolerances of `wanted`.
pub(crate) fn near(id: &str, key: &str, found: f64, wanted: f64, relative: f64, absolute: f64) {
    let allowed = (relative * wanted.abs()).max(absolute);
    if allowed > 0.0 {
        WORST.set(WORST.get().max((found - wanted).abs() / allowed));
    }
    assert!(
        (found - wanted).abs() <= allowed,
        "{id}, {key}: found {found}, reference {wanted}, allowed difference {allowed:e}"
    );
}

/// The largest error since this was last asked, as a share of what is allowed.
pub(crate) fn worst() -> f64 {
    WORST.replace(0.0)
}

/// Straight to stderr: the test runner hides what `println!` writes.
fn tell(line: &str) {
    let _ = writeln!(std::io::stderr(), "{line}");
}

fn folder() -> PathBuf {
    std::env::var_os("DRYTURN_REFERENCES")
        .map_or_else(|| help::root().join("tests/reference"), PathBuf::from)
}

#[test]
fn every_reference_case_is_met() {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder())
        .unwrap_or_else(|e| panic!("{}: {e}", folder().display()))
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "json"))
        .collect();
    files.sort();
    assert!(!files.is_empty(), "{}: no JSON file", folder().display());
    let mut total = 0;
    let mut unchecked = Vec::new();
    for file in files {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let text = std::fs::read_to_string(&file).unwrap();
        let document: Json = serde_json::from_str(&text).unwrap_or_else(|e| panic!("{name}: {e}"));
        let results = match document.get("groups") {
            Some(groups) => optics::check(groups),
            None => drive::check(&document["cases"]),
        };
        assert!(!results.is_empty(), "{name}: neither groups nor cases");
        for (group, checked) in results {
            match checked {
                Checked::All { cases, keys_left, worst } => {
                    total += cases;
                    let share = 100.0 * worst;
                    tell(&format!(
                        "reference {name}, {group}: {cases} cases met, largest error {share:.3} % of \
                         what is allowed"
                    ));
                    let key = |key: &String| format!("{name}, {group}, key {key}");
                    unchecked.extend(keys_left.iter().map(key));
                }
                Checked::NotYet { cases } => {
                    unchecked.push(format!("{name}, {group}: {cases} cases"));
                }
            }
        }
    }
    assert!(unchecked.is_empty(), "nothing checks {unchecked:#?}");
    assert!(total > 0, "no case was checked");
    tell(&format!("reference cases met: {total}"));
}
