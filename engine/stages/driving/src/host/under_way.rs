//! Commands on their way over the link, and the turns that axes are in.

use dryturn_cube::Turn;
use dryturn_handoff::{BeatRun, Cause, TurnRun};
use dryturn_units::radians;

use crate::control::kind;
use crate::execution::Execution;
use crate::rig::Machine;

/// A command on its way.
#[derive(Clone, Copy, Debug)]
struct OnItsWay {
    turn: Turn,
    beat: usize,
    /// The beat of the plan whose luck it has.
    luck: usize,
    arrives_s: f64,
}

/// What has been commanded, as far as it has come.
pub(crate) struct UnderWay {
    on_its_way: Vec<OnItsWay>,
    /// Beat and place of the turn that each axis is in.
    turns_now: [Option<(usize, usize)>; 6],
    pub(crate) beats: Vec<BeatRun>,
    pub(crate) resent: usize,
    /// A command that the host gave up on, and when it does.
    pub(super) lost: Option<(f64, Cause)>,
    cut_s: f64,
}

impl UnderWay {
    pub(super) fn new(machine: &Machine, beats: usize) -> Self {
        let cut = machine.file.faults.link_cut_at_ms;
        Self {
            on_its_way: Vec::new(),
            turns_now: [None; 6],
            beats: Vec::with_capacity(beats),
            resent: 0,
            lost: None,
            cut_s: if cut > 0.0 { cut * 1e-3 } else { f64::INFINITY },
        }
    }

    /// Sends the turns of a beat at a time, each with the beat of the plan whose luck it has.
    pub(super) fn send(
        &mut self,
        execution: &Execution<'_>,
        beat: usize,
        turns: impl Iterator<Item = (Turn, usize)>,
        sent_s: f64,
    ) {
        let machine = execution.machine;
        for (turn, luck) in turns {
            if !machine.file.shafts.iter().any(|s| s.fitted && s.face.face() == turn.face) {
                self.lost = Some((sent_s, Cause::NoShaft(turn.face)));
                continue;
            }
            match execution.built.link(machine, luck, turn.face.index()) {
                Ok((after_s, again)) if sent_s + after_s <= self.cut_s => {
                    self.resent += again;
                    self.on_its_way.push(OnItsWay {
                        turn,
                        beat,
                        luck,
                        arrives_s: sent_s + after_s,
                    });
                }
                // The link is cut: the watchdogs will end it.
                Ok(_) => self.lost = Some((f64::INFINITY, Cause::LinkLost(turn.face))),
                Err(after_s) => {
                    self.lost = Some((sent_s + after_s, Cause::LinkLost(turn.face)));
                }
            }
        }
        self.beats.push(BeatRun { beat, turns: Vec::with_capacity(2), worst_offset_deg: 0.0 });
    }

    /// What arrives at axes now; the cause where one of them refuses it, because it still moves.
    /// Only a host from outside commands such an axis.
    pub(super) fn arrivals(
        &mut self,
        execution: &mut Execution<'_>,
        now_s: f64,
        from_outside: bool,
    ) -> Option<Cause> {
        let (due, later): (Vec<_>, Vec<_>) =
            self.on_its_way.drain(..).partition(|frame| frame.arrives_s <= now_s);
        self.on_its_way = later;
        for OnItsWay { turn, beat, luck, .. } in due {
            let face = turn.face.index();
            if from_outside {
                if execution.axes[face].servo.moving.is_some() {
                    return Some(Cause::Refused(turn.face));
                }
                self.turn_on(face, now_s);
            }
            let angle_rad = radians(turn.amount.angle_deg());
            let friction = execution.built.friction_n_m(execution.machine, luck, face);
            let beyond_rad = execution.machine.beyond_rad(face);
            let kind = kind(turn.amount);
            execution.start(face, kind, (angle_rad, beyond_rad), friction);
            execution.axes[face].beat = beat;
            let turns = &mut self.beats[beat].turns;
            self.turns_now[face] = Some((beat, turns.len()));
            turns.push(TurnRun { turn, start_s: now_s, stop_s: f64::INFINITY });
        }
        None
    }

    /// A face that has not settled ends its turn with the beginning of its next.
    fn turn_on(&mut self, face: usize, now_s: f64) {
        if let Some((beat, place)) = self.turns_now[face].take() {
            self.beats[beat].turns[place].stop_s = now_s;
        }
    }

    pub(super) fn settlements(&mut self, execution: &Execution<'_>, now_s: f64) {
        for (now, axis) in self.turns_now.iter_mut().zip(&execution.axes) {
            if let Some((beat, place)) = *now
                && axis.servo.settled
            {
                self.beats[beat].turns[place].stop_s = now_s;
                *now = None;
            }
        }
    }

    /// The cause, once the host gives up on a command.
    pub(super) fn given_up(&self, now_s: f64) -> Option<Cause> {
        self.lost.filter(|(at_s, _)| now_s >= *at_s).map(|(_, cause)| cause)
    }

    /// Whether a command is on its way, or was lost.
    pub(super) fn waits(&self) -> bool {
        !self.on_its_way.is_empty() || self.lost.is_some()
    }

    /// When the last command that is on its way arrives, or now.
    pub(super) fn arrived_s(&self, now_s: f64) -> f64 {
        self.on_its_way.iter().map(|frame| frame.arrives_s).fold(now_s, f64::max)
    }

    /// When the last turn began, or the run.
    pub(super) fn last_start_s(&self) -> f64 {
        let turns = self.beats.iter().flat_map(|beat| &beat.turns);
        turns.map(|turn| turn.start_s).fold(0.0, f64::max)
    }

    /// Whether a face is in a turn that has not settled.
    pub(super) fn is_late(&self, turn: &Turn) -> bool {
        self.turns_now[turn.face.index()].is_some()
    }

    pub(super) fn all_settled(&self) -> bool {
        self.turns_now.iter().all(Option::is_none)
    }

    /// The turns that have not settled yet.
    pub(super) fn late_turns(&self) -> impl Iterator<Item = Turn> {
        let under_way = self.turns_now.iter().flatten();
        under_way.map(|&(beat, place)| self.beats[beat].turns[place].turn)
    }
}
