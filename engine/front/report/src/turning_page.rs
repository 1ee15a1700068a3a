//! Drills of the axes on a page of their own.

use dryturn_rehearsal::Exhibit;

use crate::html::Escaped;
use crate::page::{STYLE, cautions};
use crate::{run, sweep, tune, turning};

/// One self-contained HTML page about drills of the axes, or their tuning. `what` says in words what was
/// asked for; exhibits about anything but axes are left out.
#[must_use]
pub fn turning_page(title: &str, what: &str, exhibits: &[Exhibit]) -> String {
    let section = |exhibit: &Exhibit| match exhibit {
        Exhibit::Run(shown) => run::section(shown),
        Exhibit::Turning(shown) => turning::section(1, shown),
        Exhibit::Sweep(shown) => sweep::section(shown),
        Exhibit::Tuning(shown) => tune::section(shown),
        _ => String::new(),
    };
    let sections: String = exhibits.iter().map(section).collect();
    format!(
        "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
         content=\"width=device-width\"><title>{title}</title><style>{STYLE}</style>\
         </head><body><header><h1>{title}</h1><p>{} Dryturn {}. Simulated, not \
         measured.</p></header><main>{sections}{}</main></body></html>\n",
        Escaped(what),
        env!("CARGO_PKG_VERSION"),
        cautions()
    )
}
