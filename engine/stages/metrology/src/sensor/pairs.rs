//! The list of pairs: light, and the names of two files.

use dryturn_units::table::{rows, shown};
use thiserror::Error;

/// Most pairs.
const MOST_PAIRS: usize = 100;

/// A row of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct PairRow {
    /// Line of the list, from 1.
    pub line: usize,
    /// Light in any unit; 0 is dark.
    pub light_ratio: f64,
    /// The two files.
    pub files: [String; 2],
}

/// What is wrong with a list of pairs.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PairsError {
    /// Another first line.
    #[error("line 1 is {found:?}: must be light_ratio,first,second")]
    Header {
        /// What stands there.
        found: String,
    },
    /// No pair.
    #[error(
        "line {line}: {found} pictures: must be two of the same light, light_ratio,first,second"
    )]
    NoPair {
        /// Counted from 1.
        line: usize,
        /// Pictures in the row.
        found: usize,
    },
    /// Light that is no number.
    #[error("line {line}: light_ratio is {found:?}: must be a number from 0 to 1e9; 0 is dark")]
    Light {
        /// Counted from 1.
        line: usize,
        /// What stands there.
        found: String,
    },
    /// The same file twice in a row.
    #[error("line {line}: {name} stands there twice: two pictures of the same light are needed")]
    Twice {
        /// Counted from 1.
        line: usize,
        /// The file.
        name: String,
    },
    /// Too many.
    #[error("more than {MOST_PAIRS} pairs")]
    TooMany,
}

/// Reads a list of pairs (CSV with a first line of names). Empty lines, and lines that
/// start with `#`, count for nothing.
///
/// # Errors
/// The first fault, with its line.
pub fn pair_list(csv: &str) -> Result<Vec<PairRow>, PairsError> {
    let mut rows = rows(csv);
    let header = rows.next().unwrap_or_default();
    if header.cells != ["light_ratio", "first", "second"] {
        return Err(PairsError::Header { found: shown(header.text, 60) });
    }
    let mut pairs = Vec::new();
    for row in rows {
        let line = row.line;
        let found = || shown(row.cells[0], 40);
        let light_ratio = row.number(0, 0.0, 1e9);
        let light_ratio = light_ratio.ok_or_else(|| PairsError::Light { line, found: found() })?;
        let names: Vec<&str> = row.cells[1..].iter().copied().filter(|c| !c.is_empty()).collect();
        let [first, second] = names[..] else {
            return Err(PairsError::NoPair { line, found: names.len() });
        };
        if first == second {
            return Err(PairsError::Twice { line, name: first.to_owned() });
        }
        if pairs.len() == MOST_PAIRS {
            return Err(PairsError::TooMany);
        }
        pairs.push(PairRow { line, light_ratio, files: [first.to_owned(), second.to_owned()] });
    }
    Ok(pairs)
}
