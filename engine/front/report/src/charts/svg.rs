//! Elements of a drawing. Places are pixels, written to a tenth. Classes and tooltips may be
//! empty.

use maud::{Markup, html};

use crate::html::class;

fn trimmed(text: String) -> String {
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A place or a length, to a tenth of a pixel.
pub(crate) fn px(value: f64) -> String {
    trimmed(format!("{value:.1}"))
}

/// To a hundredth, for what is short and touches its neighbours.
pub(crate) fn fine_px(value: f64) -> String {
    trimmed(format!("{value:.2}"))
}

fn tip(text: &str) -> Markup {
    html! {
        @if !text.is_empty() { title { (text) } }
    }
}

/// Elements that share a tooltip.
pub(crate) fn tipped(text: &str, elements: Markup) -> Markup {
    html! { g { (tip(text)) (elements) } }
}

pub(crate) fn text(kind: &str, (x, y): (f64, f64), text: &str) -> Markup {
    html! { text class=[class(kind)] x=(px(x)) y=(px(y)) { (text) } }
}

/// Text that begins, ends or has its middle at a place.
pub(crate) fn anchored(kind: &str, anchor: &str, (x, y): (f64, f64), text: &str) -> Markup {
    html! { text class=(kind) text-anchor=(anchor) x=(px(x)) y=(px(y)) { (text) } }
}

/// A line straight down.
pub(crate) fn upright(kind: &str, x: f64, (top, bottom): (f64, f64), title: &str) -> Markup {
    html! {
        line class=(kind) x1=(px(x)) x2=(px(x)) y1=(px(top)) y2=(px(bottom)) { (tip(title)) }
    }
}

/// A line straight across.
pub(crate) fn level(kind: &str, (left, right): (f64, f64), y: f64) -> Markup {
    html! { line class=(kind) x1=(px(left)) x2=(px(right)) y1=(px(y)) y2=(px(y)) {} }
}

/// A rectangle from its upper left corner, with its width and height.
pub(crate) fn rect(
    kind: &str,
    (x, y): (f64, f64),
    (width, height): (f64, f64),
    title: &str,
) -> Markup {
    html! {
        rect class=[class(kind)] x=(px(x)) y=(px(y)) width=(px(width)) height=(px(height)) {
            (tip(title))
        }
    }
}

/// A path with its data.
pub(crate) fn path(kind: &str, data: &str, title: &str) -> Markup {
    html! { path class=(kind) d=(data) { (tip(title)) } }
}

pub(crate) fn circle(kind: &str, (x, y): (f64, f64), radius: f64) -> Markup {
    html! { circle class=[class(kind)] cx=(px(x)) cy=(px(y)) r=(px(radius)) {} }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_short_and_text_is_text() {
        assert_eq!(
            [px(64.0), px(0.04), px(10.0), px(9.96), px(2.25)],
            ["64", "0", "10", "10", "2.2"]
        );
        assert_eq!([fine_px(1.0), fine_px(1.256)], ["1", "1.26"]);
        let drawn = rect("", (1.0, 2.0), (3.0, 4.5), "a<b").into_string();
        let wanted =
            "<rect x=\"1\" y=\"2\" width=\"3\" height=\"4.5\"><title>a&lt;b</title></rect>";
        assert_eq!(drawn, wanted);
    }
}
