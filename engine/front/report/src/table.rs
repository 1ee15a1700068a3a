//! Tables of figures.

use core::fmt::Write as _;

use crate::html::Escaped;

/// Ends a cell whose figure is too low.
pub(crate) const LOW: &str = "▼";

/// A table of text; every cell is escaped. `class` is `figures` where all but the first
/// column are numbers, and `listed` for text. A cell with the mark [`LOW`] stands out.
pub(crate) fn draw(
    out: &mut String,
    class: &str,
    headings: &[&str],
    rows: impl IntoIterator<Item = Vec<String>>,
) {
    let _ = write!(out, "<table class=\"{class}\"><thead><tr>");
    for heading in headings {
        let _ = write!(out, "<th>{}</th>", Escaped(heading));
    }
    out.push_str("</tr></thead><tbody>");
    for row in rows {
        out.push_str("<tr>");
        for cell in row {
            let low = if cell.contains(LOW) { " class=\"low\"" } else { "" };
            let _ = write!(out, "<td{low}>{}</td>", Escaped(cell));
        }
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table>");
}

/// A safety factor: the strength of a shaft over the torque in it; marked where it is
/// under 2.
pub(crate) fn safety(ratio: f64) -> String {
    match ratio {
        ratio if ratio > 100.0 => "over 100".to_owned(),
        ratio if ratio < 2.0 => format!("{} {LOW} under 2", crate::html::figure(ratio, 2)),
        ratio => crate::html::figure(ratio, 2),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_text_and_low_factors_are_marked() {
        let mut out = String::new();
        draw(&mut out, "figures", &["a & b"], [vec!["<b>".to_owned()], vec![safety(1.5)]]);
        assert!(out.contains("<th>a &amp; b</th>") && out.contains("<td>&lt;b&gt;</td>"));
        assert!(out.contains("<td class=\"low\">1.50 ▼ under 2</td>"), "{out}");
        assert_eq!(safety(2.0), "2.00");
        assert_eq!(safety(1e9), "over 100");
        assert_eq!(safety(f64::NAN), "–");
    }
}
