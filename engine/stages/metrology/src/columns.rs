//! Logs as tables of numbers: columns by name, one error each with line and column.

use dryturn_numerics::upper_median;
use dryturn_units::table::{rows, shown};
use thiserror::Error;

/// Most samples of a log.
pub const MOST_SAMPLES: usize = 500_000;
/// Fewest.
pub const FEWEST_SAMPLES: usize = 50;
/// A step longer than so many median steps is a gap.
const GAP_STEPS: f64 = 4.0;
/// Fewest of a slow log.
pub(crate) const FEWEST_SLOW: usize = 20;
/// Longest median step of a log that is filtered, s: a move takes some tens of milliseconds, and
/// coarser samples make inertia come out too large (5 % at 2 ms). Times are decimals: compared
/// within [`STEP_TOLERANCE_RATIO`].
pub(crate) const LONGEST_FINE_S: f64 = 0.001;
/// Shortest median step, s: twice as quick as any controller of a scene.
const SHORTEST_S: f64 = 1e-5;
/// Longest median step of a log that is fitted by simulation, s.
pub(crate) const LONGEST_SLOW_S: f64 = 0.01;
pub(crate) const STEP_TOLERANCE_RATIO: f64 = 1e-6;
/// Latest time, s.
pub(crate) const LATEST_S: f64 = 100_000.0;

/// What is wrong with a log.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum LogError {
    /// No header.
    #[error("line 1: nothing there: must name the columns {wanted}")]
    Empty {
        /// The columns.
        wanted: String,
    },
    /// A column that must be there is not.
    #[error("line 1, column {column}: missing: the columns must be {wanted}")]
    Missing {
        /// The column.
        column: String,
        /// All of them.
        wanted: String,
    },
    /// A column that nobody knows.
    #[error("line 1, column {position}: {found:?}: must be one of {wanted}")]
    Unknown {
        /// From 1.
        position: usize,
        /// Its name.
        found: String,
        /// All that are known.
        wanted: String,
    },
    /// The same column again.
    #[error("line 1, column {position}: {found} stands there already: must be once")]
    Twice {
        /// From 1.
        position: usize,
        /// Its name.
        found: String,
    },
    /// A row of another length.
    #[error("line {line}: {found} values: must be {wanted}, one for each column")]
    Fields {
        /// From 1.
        line: usize,
        /// How many there are.
        found: usize,
        /// How many must be.
        wanted: usize,
    },
    /// What is no number, or out of range.
    #[error("line {line}, column {column}: {found:?}: must be a number from {low} to {high}")]
    Number {
        /// From 1.
        line: usize,
        /// The column.
        column: String,
        /// What stands there.
        found: String,
        /// Least value.
        low: f64,
        /// Greatest value.
        high: f64,
    },
    /// Too few or too many samples.
    #[error("line {line}: {samples} samples: must be {fewest} to {MOST_SAMPLES}")]
    Samples {
        /// How many there must be.
        fewest: usize,
        /// Where the log ends, or has too many.
        line: usize,
        /// How many there are up to there.
        samples: usize,
    },
    /// What cannot be, by the rest of the log or by the drive.
    #[error("line {line}, column {column}: {what}")]
    Odd {
        /// From 1.
        line: usize,
        /// The column.
        column: String,
        /// What is there, and what must be.
        what: String,
    },
}

impl LogError {
    pub(crate) fn odd(line: usize, column: impl Into<String>, what: impl Into<String>) -> Self {
        Self::Odd { line, column: column.into(), what: what.into() }
    }
}

/// A column that a log may have.
#[derive(Clone, Debug)]
pub(crate) struct Column {
    pub(crate) name: String,
    pub(crate) required: bool,
    /// Largest magnitude; times are not negative.
    pub(crate) most: f64,
}

impl Column {
    pub(crate) fn new(name: impl Into<String>, required: bool, most: f64) -> Self {
        Self { name: name.into(), required, most }
    }

    fn low(&self) -> f64 {
        if self.name == "time_s" { 0.0 } else { -self.most }
    }
}

/// The numbers of a log, by column in the order in which columns were asked for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Numbers {
    /// Line of each sample, from 1.
    pub(crate) lines: Vec<usize>,
    /// `None` for a column that is not there.
    pub(crate) columns: Vec<Option<Vec<f64>>>,
}

impl Numbers {
    /// Reads a table whose columns are in any order. The first is the time: it must rise in
    /// even steps of at most `longest_s`.
    pub(crate) fn read(csv: &str, known: &[Column], longest_s: f64) -> Result<Self, LogError> {
        let csv = csv.strip_prefix('\u{feff}').unwrap_or(csv);
        let mut rows = rows(csv);
        let wanted = known.iter().map(|column| column.name.as_str()).collect::<Vec<_>>().join(", ");
        let Some(header) = rows.next() else { return Err(LogError::Empty { wanted }) };
        let names = header.cells;
        let places = places(&names, known, &wanted)?;
        let mut table = Self { lines: Vec::new(), columns: known.iter().map(|_| None).collect() };
        places.iter().for_each(|&place| table.columns[place] = Some(Vec::new()));
        let mut last = 1;
        for row in rows {
            let line = row.line;
            last = line;
            if table.lines.len() == MOST_SAMPLES {
                let (fewest, samples) = (FEWEST_SAMPLES, MOST_SAMPLES + 1);
                return Err(LogError::Samples { fewest, line, samples });
            }
            let found = row.cells.len();
            if found != names.len() {
                return Err(LogError::Fields { line, found, wanted: names.len() });
            }
            for (cell, &place) in places.iter().enumerate() {
                let column = &known[place];
                let (low, high) = (column.low(), column.most);
                let value = row.number(cell, low, high).ok_or_else(|| LogError::Number {
                    line,
                    column: column.name.clone(),
                    found: shown(row.cells[cell], 40),
                    low,
                    high,
                })?;
                table.columns[place].iter_mut().for_each(|list| list.push(value));
            }
            table.lines.push(line);
            table.check_order(known)?;
        }
        let is_slow = median_step_s(table.time_s()) > LONGEST_FINE_S * (1.0 + STEP_TOLERANCE_RATIO);
        let slow = is_slow && longest_s > LONGEST_FINE_S;
        let fewest = if slow { FEWEST_SLOW } else { FEWEST_SAMPLES };
        if table.lines.len() < fewest {
            return Err(LogError::Samples { fewest, line: last, samples: table.lines.len() });
        }
        table.check_steps(known, longest_s)?;
        Ok(table)
    }

    fn time_s(&self) -> &[f64] {
        self.columns[0].as_deref().unwrap_or_default()
    }

    /// The newest sample is later than the one before.
    fn check_order(&self, known: &[Column]) -> Result<(), LogError> {
        let [.., before, now] = self.time_s() else { return Ok(()) };
        if now > before {
            return Ok(());
        }
        let what = if now == before {
            format!("{now} again: must rise from line to line")
        } else {
            format!("{now} after {before}: must rise from line to line")
        };
        let line = self.lines[self.lines.len() - 1];
        Err(LogError::odd(line, &known[0].name, what))
    }

    fn check_steps(&self, known: &[Column], longest_s: f64) -> Result<(), LogError> {
        let time_s = self.time_s();
        let step_s = median_step_s(time_s);
        let (least, most) = (1.0 - STEP_TOLERANCE_RATIO, 1.0 + STEP_TOLERANCE_RATIO);
        if !(SHORTEST_S * least..=longest_s * most).contains(&step_s) {
            return Err(LogError::odd(
                self.lines[1],
                &known[0].name,
                format!(
                    "a step of {step_s:.6} s in the median: must be {SHORTEST_S} to {longest_s} s; \
                     times are in seconds, not milliseconds"
                ),
            ));
        }
        let gap = time_s.windows(2).position(|pair| pair[1] - pair[0] > GAP_STEPS * step_s);
        gap.map_or(Ok(()), |k| {
            let gap_ms = (time_s[k + 1] - time_s[k]) * 1e3;
            Err(LogError::odd(
                self.lines[k + 1],
                &known[0].name,
                format!(
                    "a gap of {gap_ms:.3} ms: must be at most {:.3} ms, {GAP_STEPS} of the usual \
                     steps",
                    GAP_STEPS * step_s * 1e3
                ),
            ))
        })
    }
}

/// The median of the steps between times, s.
pub(crate) fn median_step_s(time_s: &[f64]) -> f64 {
    upper_median(time_s.windows(2).map(|pair| pair[1] - pair[0])).unwrap_or(0.0)
}

/// Which column each name is.
fn places(names: &[&str], known: &[Column], wanted: &str) -> Result<Vec<usize>, LogError> {
    let mut places: Vec<usize> = Vec::new();
    for (k, name) in names.iter().enumerate() {
        let position = k + 1;
        let Some(place) = known.iter().position(|column| column.name == *name) else {
            let found = shown(name, 40);
            return Err(LogError::Unknown { position, found, wanted: wanted.to_owned() });
        };
        if places.contains(&place) {
            return Err(LogError::Twice { position, found: (*name).to_owned() });
        }
        places.push(place);
    }
    let missing = |(k, column): (usize, &Column)| {
        (column.required && !places.contains(&k)).then(|| column.name.clone())
    };
    match known.iter().enumerate().find_map(missing) {
        Some(column) => Err(LogError::Missing { column, wanted: wanted.to_owned() }),
        None => Ok(places),
    }
}
