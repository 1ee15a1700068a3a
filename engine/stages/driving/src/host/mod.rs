//! The host: when it commands which beat, and when commands arrive.

mod following;
mod hand_over;

use dryturn_cube::Turn;
use dryturn_handoff::{BeatRun, Cause, CueSheet, Plan, TurnRun};
use dryturn_scene::file::Policy;
use dryturn_units::{degrees, radians};

use crate::control::kind;
use crate::execution::Execution;
use crate::rig::Machine;
use following::{Following, Next};

/// A command on its way.
#[derive(Clone, Copy, Debug)]
struct OnItsWay {
    turn: Turn,
    beat: usize,
    arrives_s: f64,
}

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
    on_its_way: Vec<OnItsWay>,
    /// How many beats have been commanded.
    commanded: usize,
    commanded_s: f64,
    /// Since when the hand-over's condition has held.
    held_since_s: Option<f64>,
    /// Beat and place of the turn that each axis is in.
    turns_now: [Option<(usize, usize)>; 6],
    pub(crate) beats: Vec<BeatRun>,
    pub(crate) resent: usize,
    /// A command that the host gave up on, and when it does.
    lost: Option<(f64, Cause)>,
    cut_s: f64,
    /// The cues that it starts beats by, instead of the policy.
    following: Option<Following<'a>>,
}

impl<'a> Host<'a> {
    pub(crate) fn new(plan: &'a Plan, machine: &Machine) -> Self {
        let cut = machine.file.faults.link_cut_at_ms;
        Self {
            plan,
            on_its_way: Vec::new(),
            commanded: 0,
            commanded_s: 0.0,
            held_since_s: None,
            turns_now: [None; 6],
            beats: Vec::with_capacity(plan.beats.len()),
            resent: 0,
            lost: None,
            cut_s: if cut > 0.0 { cut * 1e-3 } else { f64::INFINITY },
            following: None,
        }
    }

    /// One that starts the beats of `plan` by the cues of its sheet.
    pub(crate) fn following(plan: &'a Plan, sheet: &'a CueSheet, machine: &Machine) -> Self {
        Self { following: Some(Following::new(sheet)), ..Self::new(plan, machine) }
    }

    /// What it does at the present tick, before the controllers run.
    pub(crate) fn tick(&mut self, execution: &mut Execution<'_>) -> Progress {
        let now_s = execution.now_s();
        self.arrivals(execution, now_s);
        self.settlements(execution, now_s);
        if let Some(following) = &mut self.following {
            following.look(&reads_deg(execution), now_s);
        }
        if let Some((at_s, cause)) = self.lost
            && now_s >= at_s
        {
            return Progress::GaveUp(cause);
        }
        if !self.on_its_way.is_empty() || self.lost.is_some() {
            return Progress::Going;
        }
        if let Some(following) = self.following.take() {
            return self.follow(following, execution, now_s);
        }
        let machine = execution.machine;
        let limit_s = machine.file.handover.beat_limit_ms * 1e-3;
        if self.commanded > 0 && now_s - self.commanded_s > limit_s {
            let unsettled = |turn: &&Turn| self.turns_now[turn.face.index()].is_some();
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
        let ready = if last { self.all_settled() } else { self.may_go_on(execution) };
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
        let progress = match following.next(&reads_deg(execution), now_s) {
            Next::Wait => Progress::Going,
            Next::Stop(face) => Progress::GaveUp(Cause::NotSettled(face)),
            Next::Start => {
                self.command(execution, now_s);
                following.start(now_s);
                Progress::Going
            }
            Next::Done => match self.late_turns().next() {
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

    fn arrivals(&mut self, execution: &mut Execution<'_>, now_s: f64) {
        let (due, later): (Vec<_>, Vec<_>) =
            self.on_its_way.drain(..).partition(|frame| frame.arrives_s <= now_s);
        self.on_its_way = later;
        for OnItsWay { turn, beat, .. } in due {
            let face = turn.face.index();
            let angle_rad = radians(turn.amount.angle_deg());
            let friction = execution.built.friction_n_m(execution.machine, beat, face);
            let beyond_rad = execution.machine.beyond_rad(face);
            let kind = kind(turn.amount);
            execution.start(face, kind, (angle_rad, beyond_rad), friction);
            execution.axes[face].beat = beat;
            let turns = &mut self.beats[beat].turns;
            self.turns_now[face] = Some((beat, turns.len()));
            turns.push(TurnRun { turn, start_s: now_s, stop_s: f64::INFINITY });
        }
    }

    fn settlements(&mut self, execution: &Execution<'_>, now_s: f64) {
        for (now, axis) in self.turns_now.iter_mut().zip(&execution.axes) {
            if let Some((beat, place)) = *now
                && axis.servo.settled
            {
                self.beats[beat].turns[place].stop_s = now_s;
                *now = None;
            }
        }
    }

    fn all_settled(&self) -> bool {
        self.turns_now.iter().all(Option::is_none)
    }

    /// The turns that have not settled yet.
    fn late_turns(&self) -> impl Iterator<Item = Turn> {
        let under_way = self.turns_now.iter().flatten();
        under_way.map(|&(beat, place)| self.beats[beat].turns[place].turn)
    }

    fn command(&mut self, execution: &Execution<'_>, now_s: f64) {
        let machine = execution.machine;
        let beat = self.commanded;
        let overhead_s = if beat > 0 { machine.file.drive.overhead_ms * 1e-3 } else { 0.0 };
        let sent_s = now_s + overhead_s;
        for &turn in &self.plan.beats[beat].turns {
            if !machine.file.shafts.iter().any(|s| s.fitted && s.face.face() == turn.face) {
                self.lost = Some((sent_s, Cause::NoShaft(turn.face)));
                continue;
            }
            match execution.built.link(machine, beat, turn.face.index()) {
                Ok((after_s, again)) if sent_s + after_s <= self.cut_s => {
                    self.resent += again;
                    self.on_its_way.push(OnItsWay { turn, beat, arrives_s: sent_s + after_s });
                }
                // The link is cut: the watchdogs will end it.
                Ok(_) => self.lost = Some((f64::INFINITY, Cause::LinkLost(turn.face))),
                Err(after_s) => {
                    self.lost = Some((sent_s + after_s, Cause::LinkLost(turn.face)));
                }
            }
        }
        self.beats.push(BeatRun { beat, turns: Vec::with_capacity(2), worst_offset_deg: 0.0 });
        self.commanded += 1;
        // The beat's time begins when its last command has arrived.
        let arrivals = self.on_its_way.iter().map(|frame| frame.arrives_s);
        self.commanded_s = arrivals.fold(now_s, f64::max);
        self.held_since_s = None;
    }
}

/// What the encoders read, degrees since homing.
fn reads_deg(execution: &Execution<'_>) -> [f64; 6] {
    core::array::from_fn(|face| degrees(execution.axes[face].servo.reads_rad))
}
