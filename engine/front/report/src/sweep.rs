//! To be drawn.

use dryturn_rehearsal::Sweep;

pub(crate) fn section(_: &Sweep) -> String {
    String::new()
}
