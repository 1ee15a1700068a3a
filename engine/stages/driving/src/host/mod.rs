//! The host: when it commands which beat, and when commands arrive.

mod following;
mod hand_over;
mod seated;
mod under_way;

use dryturn_cube::Turn;
use dryturn_handoff::{Cause, CueSheet, Plan};
use dryturn_scene::file::Policy;

use crate::execution::Execution;
use crate::rig::Machine;
use following::{Following, Next};
pub(crate) use seated::SeatedHost;
pub(crate) use under_way::UnderWay;

/// What the host has come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Progress {
    /// It goes on.
    Going,
    /// Every face of the last beat has settled.
    Done,
    /// It gave up.
    GaveUp(Cause),
}

/// The host's memory.
pub(crate) struct Host<'a> {
    plan: &'a Plan,
    pub(crate) under_way: UnderWay,
    /// How many beats have been commanded.
    commanded: usize,
    commanded_s: f64,
    /// Since when the hand-over's condition has held.
    held_since_s: Option<f64>,
    /// The cues that it starts beats by, instead of the policy.
    following: Option<Following<'a>>,
    /// Who sits in its place.
    pub(crate) seated: Option<SeatedHost<'a>>,
}

impl<'a> Host<'a> {
    pub(crate) fn new(plan: &'a Plan, machine: &Machine) -> Self {
        Self {
            plan,
            under_way: UnderWay::new(machine, plan.beats.len()),
            commanded: 0,
            commanded_s: 0.0,
            held_since_s: None,
            following: None,
            seated: None,
        }
    }

    /// One that starts the beats of `plan` by the cues of its sheet.
    pub(crate) fn following(plan: &'a Plan, sheet: &'a CueSheet, machine: &Machine) -> Self {
        Self { following: Some(Following::new(sheet)), ..Self::new(plan, machine) }
    }

    /// What it does at the present tick, before the controllers run.
    pub(crate) fn tick(&mut self, execution: &mut Execution<'_>) -> Progress {
        let now_s = execution.now_s();
        let refused = self.under_way.arrivals(execution, now_s, self.seated.is_some());
        self.under_way.settlements(execution, now_s);
        if let Some(following) = &mut self.following {
            following.look(&execution.encoder_deg(), now_s);
        }
        if let Some(cause) = refused.or_else(|| self.under_way.given_up(now_s)) {
            return Progress::GaveUp(cause);
        }
        if let Some(mut seated) = self.seated.take() {
            let progress = if seated.done {
                self.comes_to_rest(execution.machine, now_s)
            } else {
                self.ask(&mut seated, execution, now_s)
            };
            self.seated = Some(seated);
            return progress;
        }
        if self.under_way.waits() {
            return Progress::Going;
        }
        if let Some(following) = self.following.take() {
            return self.follow(following, execution, now_s);
        }
        let machine = execution.machine;
        let limit_s = machine.file.handover.beat_limit_ms * 1e-3;
        if self.commanded > 0 && now_s - self.commanded_s > limit_s {
            let unsettled = |turn: &&Turn| self.under_way.is_late(turn);
            let late = self.plan.beats[..self.commanded]
                .iter()
                .rev()
                .flat_map(|beat| &beat.turns)
                .find(unsettled);
            if let Some(turn) = late {
                return Progress::GaveUp(Cause::NotSettled(turn.face));
            }
        }
        let last = self.commanded == self.plan.beats.len();
        let dwell_s = match machine.file.handover.policy {
            Policy::Settle if self.commanded > 0 => machine.file.handover.settle_dwell_ms * 1e-3,
            _ => 0.0,
        };
        let ready = if last { self.under_way.all_settled() } else { self.may_go_on(execution) };
        // A dwell begins anew whenever a face leaves its window, but not for ever: as little as
        // a face may take to settle may it take to stay.
        if !ready || (dwell_s > 0.0 && !self.stays(execution)) {
            self.held_since_s = None;
            let over = ready && now_s - self.commanded_s > limit_s + dwell_s;
            return match self.restless(execution).filter(|_| over) {
                Some(face) => Progress::GaveUp(Cause::NotSteady(face)),
                None => Progress::Going,
            };
        }
        let since_s = *self.held_since_s.get_or_insert(now_s);
        if now_s - since_s + 1e-12 < dwell_s {
            return Progress::Going;
        }
        if last {
            return Progress::Done;
        }
        self.command(execution, now_s);
        Progress::Going
    }

    /// What it does at the present tick where it starts beats by cues.
    fn follow(
        &mut self,
        mut following: Following<'a>,
        execution: &Execution<'_>,
        now_s: f64,
    ) -> Progress {
        let progress = match following.next(&execution.encoder_deg(), now_s) {
            Next::Wait => Progress::Going,
            Next::Stop(face) => Progress::GaveUp(Cause::NotSettled(face)),
            Next::Start => {
                self.command(execution, now_s);
                following.start(now_s);
                Progress::Going
            }
            Next::Done => match self.under_way.late_turns().next() {
                None => Progress::Done,
                // By its encoder it has settled, but its set-point has not ended.
                Some(turn) if following.timed_out(now_s) => {
                    Progress::GaveUp(Cause::NotSettled(turn.face))
                }
                Some(_) => Progress::Going,
            },
        };
        self.following = Some(following);
        progress
    }

    fn command(&mut self, execution: &Execution<'_>, now_s: f64) {
        let sent_s = now_s + self.overhead_s(execution.machine);
        let beat = self.commanded;
        let turns = self.plan.beats[beat].turns.iter().map(|turn| (*turn, beat));
        self.under_way.send(execution, beat, turns, sent_s);
        self.commanded += 1;
        // The beat's time begins when its last command has arrived.
        self.commanded_s = self.under_way.arrived_s(now_s);
        self.held_since_s = None;
    }

    /// What the bookkeeping takes before the next beat.
    fn overhead_s(&self, machine: &Machine) -> f64 {
        if self.commanded > 0 { machine.file.drive.overhead_ms * 1e-3 } else { 0.0 }
    }
}
