//! Tables as comma-separated text.

/// Lines with their numbers, from 1. Empty lines, and lines that start with `#`, count for
/// nothing.
pub(crate) fn lines(csv: &str) -> impl Iterator<Item = (usize, &str)> {
    let lines = csv.lines().enumerate().map(|(i, line)| (i + 1, line.trim()));
    lines.filter(|(_, line)| !line.is_empty() && !line.starts_with('#'))
}

/// What stands between a line's commas.
pub(crate) fn cells(line: &str) -> Vec<&str> {
    line.split(',').map(str::trim).collect()
}

/// As much of a cell or line as a message shows.
pub(crate) fn shown(text: &str, most: usize) -> String {
    text.chars().take(most).collect()
}
