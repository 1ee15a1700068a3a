//! Logs of real axes on a page of their own.

use dryturn_rehearsal::Exhibit;

use crate::html::Escaped;
use crate::page::{STYLE, cautions};
use crate::{identified, overlay};

/// One self-contained HTML page about logs of real axes. `what` says in words what was
/// asked for; exhibits about anything else are left out.
#[must_use]
pub fn logs_page(what: &str, exhibits: &[Exhibit]) -> String {
    let section = |exhibit: &Exhibit| match exhibit {
        Exhibit::Identified(shown) => identified::section(shown),
        Exhibit::Overlay(shown) => overlay::section(shown),
        _ => String::new(),
    };
    let sections: String = exhibits.iter().map(section).collect();
    format!(
        "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
         content=\"width=device-width\"><title>Logs of real axes</title><style>{STYLE}</style></head>\
         <body><header><h1>Logs of real axes</h1><p>{} Dryturn {}.</p></header><main>{sections}{}\
         </main></body></html>\n",
        Escaped(what),
        env!("CARGO_PKG_VERSION"),
        cautions()
    )
}
