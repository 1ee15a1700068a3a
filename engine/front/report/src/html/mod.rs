//! What all sections are written with: numbers as text, and tables. Markup is maud's: text that
//! comes into it is escaped there, and nowhere else.

pub(crate) mod figures;
pub(crate) mod table;

use maud::{Markup, html};

/// In a frame of its own, in which it scrolls where the page is too narrow for it: text keeps
/// its size.
pub(crate) fn framed(wide: Markup) -> Markup {
    html! { div.frame { (wide) } }
}

/// A class, or no attribute where it is empty.
pub(crate) fn class(name: &str) -> Option<&str> {
    Some(name).filter(|name| !name.is_empty())
}
