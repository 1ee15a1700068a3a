//! Whether the next beat may begin, by the scene's policy.

use dryturn_cube::{Face, Turn};
use dryturn_scene::file::Policy;
use dryturn_units::radians;

use super::Host;
use crate::execution::Execution;

impl Host<'_> {
    /// Whether the faces of the last beat are within the settle window now.
    pub(super) fn stays(&self, execution: &Execution<'_>) -> bool {
        let window = radians(execution.machine.file.handover.settle_window_deg);
        let turns = self.under_way.beats.last().map_or(&[][..], |beat| &beat.turns);
        turns.iter().all(|turn| execution.axes[turn.turn.face.index()].servo.to_go_rad() <= window)
    }

    /// The face of the last beat that is farthest from its stop.
    pub(super) fn restless(&self, execution: &Execution<'_>) -> Option<Face> {
        let to_go = |face: Face| execution.axes[face.index()].servo.to_go_rad();
        let faces = self.under_way.beats.last()?.turns.iter().map(|turn| turn.turn.face);
        faces.max_by(|a, b| to_go(*a).total_cmp(&to_go(*b)))
    }

    /// Whether the next beat may be commanded: its own faces have settled, and all others
    /// are as far as the policy wants.
    pub(super) fn may_go_on(&self, execution: &Execution<'_>) -> bool {
        let handover = &execution.machine.file.handover;
        let again = &self.plan.beats[self.commanded].turns;
        if again.iter().any(|turn| self.under_way.is_late(turn)) {
            return false;
        }
        match handover.policy {
            Policy::Settle => self.under_way.all_settled(),
            Policy::Release => {
                let near = radians(handover.release_angle_deg);
                let to_go = |face: Face| execution.axes[face.index()].servo.to_go_rad();
                self.under_way.late_turns().all(|turn| to_go(turn.face) <= near)
            }
            Policy::Predict => self.under_way.late_turns().all(|late| {
                let next = self.plan.beats[self.commanded].turns.iter();
                next.filter(|turn| !turn.face.same_axis(late.face))
                    .all(|turn| passes(execution, late, *turn))
            }),
        }
    }
}

/// Whether a turn that is commanded now begins late enough to pass another, by the
/// set-points of both. The host knows the latency of its link, and takes the late face for
/// as late as its encoder says.
fn passes(execution: &Execution<'_>, late: Turn, turn: Turn) -> bool {
    let machine = execution.machine;
    let servo = &execution.axes[late.face.index()].servo;
    let handover = &machine.file.handover;
    match servo.stops_in_s(machine.tick_s, &machine.moves) {
        Some(stops_s) => stops_s - machine.leads.between_s(late, turn) <= machine.begins_s(),
        None => {
            let margin_rad = radians(handover.clearance_margin_deg);
            servo.to_go_rad() + margin_rad <= radians(handover.settle_window_deg)
        }
    }
}
