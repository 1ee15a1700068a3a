//! Whoever sits in the host's place, and what becomes of the answers.

use std::collections::VecDeque;

use dryturn_cube::Face;
use dryturn_handoff::{Cause, GuestRole, Plan, SeatFault, SimulationLimit};

use super::{Host, Progress};
use crate::execution::Execution;
use crate::rig::Machine;
use crate::seats::{HostAnswer, HostSeat};

/// Turns that a host may command in a run: so many for each turn of its plan, and so many more.
const COMMANDS: (usize, usize) = (4, 100);

/// Which luck the turns have that are commanded: a face's n-th turn has that of its n-th turn in
/// the plan, whatever beats a host makes of it, and turns beyond those have luck of their own.
struct Luck {
    /// By face: beats of the plan.
    beats: [VecDeque<usize>; 6],
    beyond: usize,
}

impl Luck {
    fn of(plan: &Plan) -> Self {
        let mut beats: [VecDeque<usize>; 6] = Default::default();
        for (number, beat) in plan.beats.iter().enumerate() {
            beat.turns.iter().for_each(|turn| beats[turn.face.index()].push_back(number));
        }
        Self { beats, beyond: plan.beats.len() }
    }

    fn of_next(&mut self, face: Face) -> usize {
        self.beats[face.index()].pop_front().unwrap_or_else(|| {
            self.beyond += 1;
            self.beyond - 1
        })
    }
}

/// Whoever sits there.
pub(crate) struct SeatedHost<'a> {
    seat: &'a mut dyn HostSeat,
    /// Asked every so many ticks.
    every: usize,
    latency_s: f64,
    luck: Luck,
    /// Turns that may still be commanded.
    left: usize,
    /// It has said that its plan is finished.
    pub(super) done: bool,
    /// Why it could not go on.
    pub(crate) fault: Option<SeatFault>,
    /// Why it stopped everything.
    pub(crate) stopped_because: Option<String>,
}

impl<'a> SeatedHost<'a> {
    /// To be asked every so many ticks, whose commands leave so much later.
    pub(crate) fn new(
        seat: &'a mut dyn HostSeat,
        plan: &Plan,
        (every, latency_s): (usize, f64),
    ) -> Self {
        let (each, more) = COMMANDS;
        let left = each * plan.turns().len() + more;
        let luck = Luck::of(plan);
        Self { seat, every, latency_s, luck, left, done: false, fault: None, stopped_because: None }
    }

    pub(crate) fn end(&mut self) {
        self.seat.end();
    }

    pub(crate) fn name(&self) -> &str {
        self.seat.name()
    }
}

impl<'a> Host<'a> {
    /// One in whose place somebody sits.
    pub(crate) fn seated(plan: &'a Plan, machine: &Machine, seated: SeatedHost<'a>) -> Self {
        Self { seated: Some(seated), ..Self::new(plan, machine) }
    }

    /// Whoever sits there is done: what has been commanded settles, as a rig goes on turning whatever
    /// its host believes; but no longer than a beat may take.
    pub(super) fn comes_to_rest(&mut self, machine: &Machine, now_s: f64) -> Progress {
        let limit_s = machine.file.handover.beat_limit_ms * 1e-3;
        let over = now_s - self.under_way.last_start_s() > limit_s;
        if !over && (self.under_way.waits() || !self.under_way.all_settled()) {
            return Progress::Going;
        }
        Progress::Done
    }

    /// What whoever sits there does at the present tick.
    pub(super) fn ask(
        &mut self,
        seated: &mut SeatedHost<'_>,
        execution: &Execution<'_>,
        now_s: f64,
    ) -> Progress {
        if !execution.tick.is_multiple_of(seated.every) {
            return Progress::Going;
        }
        let turns = match seated.seat.tick(&execution.host_sees()) {
            Ok(HostAnswer::Turn(turns)) => turns,
            Ok(HostAnswer::Done) => {
                seated.done = true;
                return self.comes_to_rest(execution.machine, now_s);
            }
            Ok(HostAnswer::Stop(because)) => {
                seated.stopped_because = Some(because);
                return Progress::GaveUp(Cause::HostStopped);
            }
            Err(fault) => {
                seated.fault = Some(fault);
                return Progress::GaveUp(Cause::Guest(GuestRole::Host));
            }
        };
        if turns.is_empty() {
            return Progress::Going;
        }
        let Some(left) = seated.left.checked_sub(turns.len()) else {
            return Progress::GaveUp(Cause::Simulation(SimulationLimit::Commands));
        };
        seated.left = left;
        let sent_s = now_s + seated.latency_s + self.overhead_s(execution.machine);
        let before = self.under_way.lost.take();
        let luck = &mut seated.luck;
        let turns = turns.into_iter().map(|turn| (turn, luck.of_next(turn.face)));
        self.under_way.send(execution, self.commanded, turns, sent_s);
        self.commanded += 1;
        // What is given up on first ends the run.
        let lost = [before, self.under_way.lost];
        self.under_way.lost = lost.into_iter().flatten().min_by(|a, b| a.0.total_cmp(&b.0));
        Progress::Going
    }
}
