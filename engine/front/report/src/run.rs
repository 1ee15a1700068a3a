//! To be drawn.

use dryturn_rehearsal::ShownRun;

pub(crate) fn section(_: &ShownRun) -> String {
    String::new()
}
