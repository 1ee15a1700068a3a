//! Tables as comma-separated text: a header of names, then a line for each row. People write
//! them and devices log them, so whoever reads one says what is wrong, and in which line.

/// A line of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Row<'a> {
    /// Its number in the text, from 1.
    pub line: usize,
    /// All of it.
    pub text: &'a str,
    /// What stands between its commas.
    pub cells: Vec<&'a str>,
}

impl Row<'_> {
    /// The number in a cell; `None` where there is none from `low` to `high`.
    ///
    /// # Panics
    /// If there is no such cell.
    #[must_use]
    pub fn number(&self, cell: usize, low: f64, high: f64) -> Option<f64> {
        // NaN is in no range.
        self.cells[cell].parse().ok().filter(|value| (low..=high).contains(value))
    }
}

/// All rows, the header first. Space round lines and cells, empty lines, and lines that start
/// with `#` count for nothing. There are no quotes: no cell holds a comma.
pub fn rows(text: &str) -> impl Iterator<Item = Row<'_>> {
    let lines = (1..).zip(text.lines().map(str::trim));
    lines.filter(|(_, text)| !text.is_empty() && !text.starts_with('#')).map(|(line, text)| Row {
        line,
        text,
        cells: text.split(',').map(str::trim).collect(),
    })
}

/// As much of a cell or a line as a message shows: what is taken for a table may be any file.
#[must_use]
pub fn shown(text: &str, most: usize) -> String {
    text.chars().take(most).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_have_the_numbers_of_their_lines() {
        let text = "# made up\n nm , power \n\n400,1\r\n  # none\n500, 2.5,\n";
        let found: Vec<(usize, &str, Vec<&str>)> =
            rows(text).map(|row| (row.line, row.text, row.cells)).collect();
        let wanted = [
            (2, "nm , power", vec!["nm", "power"]),
            (4, "400,1", vec!["400", "1"]),
            (6, "500, 2.5,", vec!["500", "2.5", ""]),
        ];
        assert_eq!(found, wanted);
        assert_eq!(rows("\n#\n \n").next(), None);
    }

    #[test]
    fn numbers_are_those_in_their_range() {
        let row = rows("1,-0.5,1e3,nan,inf,0x1,,1 2").next().unwrap();
        let found: Vec<Option<f64>> = (0..8).map(|cell| row.number(cell, -0.5, 1e3)).collect();
        let [one, low, high] = [1.0, -0.5, 1e3].map(Some);
        assert_eq!(found, [one, low, high, None, None, None, None, None]);
        assert_eq!(row.number(0, 2.0, 3.0), None);
    }

    #[test]
    fn what_is_shown_is_cut_between_characters() {
        assert_eq!((&*shown("äöü", 2), &*shown("a", 2)), ("äö", "a"));
    }
}
