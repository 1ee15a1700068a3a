//! Tables.

use maud::{Markup, html};

use crate::html::figures::LOW;
use crate::html::{class, framed};

/// A table of text. `kind` is `figures` where all but the first column are numbers, `listed`
/// for text, or another class of the style; none where it is empty. A cell with the mark
/// [`LOW`] stands out.
pub(crate) fn draw(
    kind: &str,
    headings: &[&str],
    rows: impl IntoIterator<Item = Vec<String>>,
) -> Markup {
    let cell = |cell: String| {
        let low = cell.contains(LOW).then_some("low");
        html! { td class=[low] { (cell) } }
    };
    let rows = html! {
        @for row in rows {
            tr { @for own in row { (cell(own)) } }
        }
    };
    laid_out(kind, row_of(headings), rows)
}

/// A table whose rows are made elsewhere.
pub(crate) fn laid_out(kind: &str, head: Markup, body: Markup) -> Markup {
    framed(html! {
        table class=[class(kind)] {
            thead { (head) }
            tbody { (body) }
        }
    })
}

/// A row of headings.
pub(crate) fn row_of(headings: &[&str]) -> Markup {
    html! {
        tr { @for heading in headings { th { (heading) } } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::html::figures::safety;

    #[test]
    fn cells_are_text_and_low_figures_are_marked() {
        let rows = [vec!["<b>".to_owned()], vec![safety(1.5)]];
        let table = draw("figures", &["a & b"], rows).into_string();
        assert!(table.starts_with("<div class=\"frame\"><table class=\"figures\"><thead>"));
        assert!(table.contains("<th>a &amp; b</th>") && table.contains("<td>&lt;b&gt;</td>"));
        assert!(table.contains("<td class=\"low\">1.50 ▼ under 2</td>"), "{table}");
        assert!(draw("", &[], []).into_string().contains("<table><thead>"));
    }
}
