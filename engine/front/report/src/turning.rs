//! To be drawn.

use dryturn_rehearsal::TurningDrill;

pub(crate) fn section(_: &TurningDrill) -> String {
    String::new()
}
