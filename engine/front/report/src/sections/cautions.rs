//! The cautions, and what leads to them.

use dryturn_studies::CAUTIONS;
use maud::{Markup, html};

/// Leads from a section about what turns to the cautions.
pub(crate) fn pointer() -> Markup {
    html! { p.aside { "Simulated; see the cautions at the end of the page." } }
}

/// Leads from a section about logs of an axis to the cautions.
pub(crate) fn bench_pointer() -> Markup {
    html! {
        p.aside { "Before an axis moves on a bench: see the cautions at the end of the page." }
    }
}

/// The cautions as a section.
pub(crate) fn section() -> Markup {
    html! {
        section.cautions {
            h2 { "Before you go near the hardware" }
            ul { @for caution in CAUTIONS { li { (caution) } } }
        }
    }
}
