//! What every page has round its sections.

use maud::{DOCTYPE, Markup, PreEscaped, html};

const STYLE: &str = include_str!("../page.css");

/// One self-contained page: no scripts, no links out. `about` stands below the heading.
pub(super) fn page(heading: &str, about: &str, sections: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width";
                title { (heading) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (heading) }
                    p { (about) }
                }
                main { (sections) }
            }
        }
    };
    page.into_string() + "\n"
}

/// Who made a page.
pub(super) fn maker() -> String {
    format!("Dryturn {}", env!("CARGO_PKG_VERSION"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_from_outside_is_text() {
        let page = page("<Rig>", "a & b", &html! { p { "c" } });
        assert!(page.contains("<title>&lt;Rig&gt;</title>") && page.contains("<p>a &amp; b</p>"));
        assert!(page.ends_with("<main><p>c</p></main></body></html>\n"));
    }
}
