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
/// too narrow for it: text keeps its size.
fn framed(sections: &str) -> String {
    ["svg", "table"].into_iter().fold(sections.to_owned(), |page, element| {
        let (open, close) = (format!("<{element} "), format!("</{element}>"));
        page.replace(&format!("<{element}>"), &format!("<div class=\"frame\"><{element}>"))
            .replace(&open, &format!("<div class=\"frame\">{open}"))
            .replace(&close, &format!("{close}</div>"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charts_and_tables_have_frames() {
        let page = page("<Rig>", "a & b", "<svg class=\"x\"></svg><table><td>1</td></table>");
        assert!(page.contains("<title>&lt;Rig&gt;</title>") && page.contains("<p>a &amp; b</p>"));
        for element in ["svg", "table"] {
            let count = |what: &str| page.matches(what).count();
            assert_eq!(count(&format!("<div class=\"frame\"><{element}")), 1);
            assert_eq!(count(&format!("</{element}></div>")), 1);
        }
    }
}
