//! A contact sheet as a section.

use dryturn_handoff::Frame;
use maud::{Markup, html};

use crate::pictures::{contact_sheet, data_address};

/// Pictures in a row.
const COLUMNS: usize = 6;

pub(crate) fn section(title: &str, frames: &[Frame]) -> Markup {
    let sheet = contact_sheet(frames, COLUMNS);
    let Some(Ok(address)) = sheet.as_ref().map(data_address) else { return html! {} };
    html! {
        section {
            h2 { (title) }
            figure.sheet {
                img alt={ "contact sheet: " (title) } src=(address);
                figcaption { (frames.len()) " pictures" }
            }
        }
    }
}
