//! One row of a rig plan, read strictly.

use dryturn_cube::{Amount, Face, Turn};
use dryturn_handoff::{Cue, CuedTurn};

use super::fault::{RigFileError, fault};
use super::rows::{AND, COLUMNS, END, NEVER_MS, RowTime};

/// Longest time-out, ms.
const LONGEST_MS: f64 = 120_000.0;

/// A number with exactly so many decimals.
fn fixed(text: &str, decimals: usize) -> Option<f64> {
    let value: f64 = text.parse().ok().filter(|value: &f64| value.is_finite())?;
    (format!("{value:.decimals$}") == text).then_some(value)
}

fn face(text: &str) -> Option<Face> {
    let mut letters = text.chars();
    let face = Face::from_letter(letters.next()?)?;
    letters.next().is_none().then_some(face)
}

fn cue(text: &str) -> Option<Cue> {
    let words: Vec<&str> = text.split(' ').collect();
    match words[..] {
        [who, "settled"] => Some(Cue::Settled(face(who)?)),
        [who, "above", deg] => Some(Cue::Above(face(who)?, fixed(deg, 3)?)),
        [who, "below", deg] => Some(Cue::Below(face(who)?, fixed(deg, 3)?)),
        _ => None,
    }
}

/// What a row says by itself.
pub(super) struct Row {
    pub(super) beat: usize,
    /// `None` in the last row.
    pub(super) turn: Option<CuedTurn>,
    pub(super) cues: Vec<Cue>,
    /// Window, dwell, time-out, ceiling.
    pub(super) figures: [f64; 4],
    pub(super) safe: bool,
    pub(super) time: RowTime,
}

/// One row by itself.
pub(super) fn row(text: &str, number: usize, line: usize) -> Result<Row, RigFileError> {
    let fields: Vec<&str> = text.split(',').collect();
    let names: Vec<&str> = COLUMNS.split(',').collect();
    if fields.len() != names.len() {
        return fault(line, format!("{} columns: must be {}", fields.len(), names.len()));
    }
    let wrong = |column: usize, allowed: &str| RigFileError {
        line,
        what: format!("{} is '{}': must be {allowed}", names[column], fields[column]),
    };
    let number_at = |column: usize, decimals: usize, range: (f64, f64)| {
        let value = fixed(fields[column], decimals).filter(|v| (range.0..=range.1).contains(v));
        let (low, high) = range;
        value.ok_or_else(|| wrong(column, &format!("{low} to {high} with {decimals} decimals")))
    };
    if fields[0] != number.to_string() {
        return Err(wrong(0, &number.to_string()));
    }
    let beat = fields[1].parse().ok().filter(|&beat: &usize| fields[1] == beat.to_string());
    let beat = beat.ok_or_else(|| wrong(1, "a whole number"))?;
    let to_deg = number_at(4, 3, (-36_000.0, 36_000.0))?;
    let amount = match fields[3] {
        "1" => Some(Amount::Clockwise),
        "2" => Some(Amount::Half),
        "-1" => Some(Amount::Counter),
        _ => None,
    };
    let turn = match (face(fields[2]), amount) {
        (Some(face), Some(amount)) => Some(CuedTurn { turn: Turn { face, amount }, to_deg }),
        (None, None) if fields[2..5] == [END, "0", "0.000"] => None,
        (None, _) if fields[2] != END => return Err(wrong(2, "U, R, F, D, L, B or end")),
        _ => return Err(wrong(3, "1, 2 or -1, and 0 at the end")),
    };
    let cues: Option<Vec<Cue>> = match fields[5] {
        "" => Some(vec![]),
        text => text.split(AND).map(cue).collect(),
    };
    let allowed = "cues as in 'U settled & R above 82.300', with three decimals";
    let cues = cues.ok_or_else(|| wrong(5, allowed))?;
    let figures = [
        number_at(6, 3, (0.001, 45.0))?,
        number_at(7, 3, (0.0, LONGEST_MS))?,
        number_at(8, 3, (0.001, LONGEST_MS))?,
        number_at(11, 4, (0.01, 1.0))?,
    ];
    let safe = match fields[12] {
        "yes" => true,
        "no" => false,
        _ => return Err(wrong(12, "yes or no")),
    };
    let start_ms = match fields[9] {
        "-1.000" => NEVER_MS,
        _ => number_at(9, 3, (0.0, 1e6))?,
    };
    let time = RowTime { start_ms, duration_ms: number_at(10, 3, (0.0, 1e6))? };
    Ok(Row { beat, turn, cues, figures, safe, time })
}
