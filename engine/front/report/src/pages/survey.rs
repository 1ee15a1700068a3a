//! A survey on a page of its own.

use dryturn_studies::Surveyed;
use maud::html;

use super::shell;
use crate::sections::survey;

/// A page of its own; `before` is the layout it is compared with.
#[must_use]
pub fn survey_page(surveyed: &Surveyed, before: Option<&Surveyed>) -> String {
    let sections = html! {
        (survey::section(surveyed))
        @if let Some(before) = before { (survey::changes(surveyed, before)) }
    };
    let about = format!("{}. Simulated, not measured.", shell::maker());
    shell::page("Survey of a layout", &about, &sections)
}
