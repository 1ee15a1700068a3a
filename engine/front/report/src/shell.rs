//! What every page has round its sections.

use crate::html::Escaped;

pub(crate) const STYLE: &str = include_str!("page.css");

/// One self-contained page: no scripts, no links out. `about` stands below the heading.
pub(crate) fn page(heading: &str, about: &str, sections: &str) -> String {
    let (heading, about) = (Escaped(heading), Escaped(about));
    format!(
        "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
         content=\"width=device-width\"><title>{heading}</title><style>{STYLE}</style></head><body>\
         <header><h1>{heading}</h1><p>{about}</p></header><main>{}</main></body></html>\n",
        framed(sections)
    )
}

/// Who made a page.
pub(crate) fn maker() -> String {
    format!("Dryturn {}", env!("CARGO_PKG_VERSION"))
}

/// Every chart and every table in a frame of its own, in which it scrolls where the page is
/// too narrow for it: text keeps its size. Marks in a line of text, which are hidden from
/// readers of the screen, stay in their line.
fn framed(sections: &str) -> String {
    let mut page = String::with_capacity(sections.len() + sections.len() / 16);
    let mut rest = sections;
    while let Some(at) = rest.find("<svg").into_iter().chain(rest.find("<table")).min() {
        let (before, element) = rest.split_at(at);
        page.push_str(before);
        let close = if element.starts_with("<svg") { "</svg>" } else { "</table>" };
        let end = element.find(close).map_or(element.len(), |end| end + close.len());
        let (whole, after) = element.split_at(end);
        let tag = whole.split('>').next().unwrap_or_default();
        if tag.contains("aria-hidden") {
            page.push_str(whole);
        } else {
            page.push_str(&format!("<div class=\"frame\">{whole}</div>"));
        }
        rest = after;
    }
    page + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charts_and_tables_have_frames() {
        let page = page(
            "<Rig>",
            "a & b",
            "<li><svg aria-hidden=\"true\"></svg></li><svg class=\"x\"></svg><table><td>1</td></table>",
        );
        assert!(page.contains("<title>&lt;Rig&gt;</title>") && page.contains("<p>a &amp; b</p>"));
        for element in ["svg", "table"] {
            let count = |what: &str| page.matches(what).count();
            assert!(page.contains("<li><svg"), "a mark stays in its line");
            assert_eq!(count(&format!("<div class=\"frame\"><{element}")), 1);
            assert_eq!(count(&format!("</{element}></div>")), 1);
        }
    }
}
