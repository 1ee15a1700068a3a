//! From a plan and the scene's policy to cues: what the encoders must show before each beat
//! starts.
//!
//! Where turns begin by prediction the lead is a time before the late turn's set-point stops.
//! As a cue it is the angle that the set-point has come to by then, to be read from the late
//! face's encoder: a face that is late by its encoder then delays the next by as much.

use dryturn_cube::{CubeState, Face, Turn};
use dryturn_handoff::{Cue, CueSheet, CuedBeat, CuedTurn, End, Plan, Run};
use dryturn_scene::file::Policy;
use dryturn_units::degrees;
use dryturn_units::noise::Seed;

use super::Timing;
use crate::control::kind;
use crate::rig::Machine;
use crate::run::Detail;

/// A face must stay within its window for at least so long, at full power, ms: it is then
/// not taken for settled while it swings through.
const LEAST_DWELL_MS: f64 = 2.0;
/// A time-out is so many times the predicted wait, and so much more, ms.
const PATIENCE: (f64, f64) = (2.0, 50.0);

/// A turn that no cue has waited for to its end.
#[derive(Clone, Copy)]
struct Pending {
    beat: usize,
    turn: Turn,
    to_deg: f64,
}

fn rounded(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}

/// That a face has come within `to_go_deg` of the end of its turn, or further.
fn passed(late: Pending, to_go_deg: f64) -> Cue {
    // Rounded towards the end of the turn. What is a hair beside a whole figure is that figure.
    const HAIR: f64 = 1e-6;
    if late.turn.amount.angle_deg() > 0.0 {
        let at = (late.to_deg - to_go_deg) * 1e3;
        Cue::Above(late.turn.face, (at - HAIR).ceil() / 1e3)
    } else {
        let at = (late.to_deg + to_go_deg) * 1e3;
        Cue::Below(late.turn.face, (at + HAIR).floor() / 1e3)
    }
}

impl Machine {
    /// How far a late turn's set-point is from its end, degrees, when another may be
    /// commanded by prediction.
    fn to_go_deg(&self, late: Turn, next: Turn) -> f64 {
        let course = &self.moves[kind(late.amount)];
        let early_s = self.leads.between_s(late, next) + self.begins_s();
        let last = course.ticks.len() - 1;
        let ticks = ((early_s / self.tick_s + 1e-9).floor() as usize).min(last);
        degrees(course.angle_rad - course.at(last - ticks).angle_rad)
    }

    /// What must be seen of a late face before `next` may start; `None` where it may turn
    /// beside them.
    fn cue(&self, policy: Policy, late: Pending, index: usize, next: &[CuedTurn]) -> Option<Cue> {
        let face = late.turn.face;
        let settled = Some(Cue::Settled(face));
        if policy == Policy::Settle || next.iter().any(|turn| turn.turn.face == face) {
            return settled;
        }
        if next.iter().any(|turn| turn.turn.face.same_axis(face)) {
            return None;
        }
        if late.beat + 1 < index {
            return settled;
        }
        let handover = &self.file.handover;
        let to_go_deg = match policy {
            Policy::Settle => return settled,
            Policy::Release => handover.release_angle_deg,
            Policy::Predict => {
                let each = next.iter().map(|turn| self.to_go_deg(late.turn, turn.turn));
                each.fold(f64::INFINITY, f64::min)
            }
        };
        // Nearer to its end than the window a face has settled as good as.
        if to_go_deg <= handover.settle_window_deg {
            settled
        } else {
            Some(passed(late, to_go_deg))
        }
    }

    /// A plan with its cues; time-outs are those of the scene.
    fn sheet(&self, plan: &Plan, policy: Policy) -> CueSheet {
        let handover = &self.file.handover;
        let slower = 1.0 / self.ceiling.pace_ratio();
        let time_out_ms = rounded(handover.beat_limit_ms * slower);
        let mut stops_deg = [0.0; 6];
        let mut pending: Vec<Pending> = Vec::new();
        let mut beats = Vec::with_capacity(plan.beats.len());
        let home = || Face::ALL.map(Cue::Settled).to_vec();
        for (index, beat) in plan.beats.iter().enumerate() {
            let cued = |&turn: &Turn| {
                let (face, angle_deg) = (turn.face.index(), turn.amount.angle_deg());
                stops_deg[face] += angle_deg;
                let beyond_deg = degrees(self.beyond_rad(face)).copysign(angle_deg);
                CuedTurn { turn, to_deg: rounded(stops_deg[face] + beyond_deg) }
            };
            let turns: Vec<CuedTurn> = beat.turns.iter().map(cued).collect();
            let cue = |late: &Pending| self.cue(policy, *late, index, &turns);
            let mut cues: Vec<Cue> = pending.iter().filter_map(cue).collect();
            if index == 0 {
                cues = home();
            }
            // Whom a cue waits for to the end is done with.
            pending.retain(|late| !cues.contains(&Cue::Settled(late.turn.face)));
            pending.extend(turns.iter().map(|&CuedTurn { turn, to_deg }| Pending {
                beat: index,
                turn,
                to_deg,
            }));
            beats.push(CuedBeat { turns, cues, time_out_ms });
        }
        CueSheet {
            // Rounded down, which is the stricter way, but not to nothing.
            window_deg: ((handover.settle_window_deg * 1e3 + 1e-6).floor() / 1e3).max(1e-3),
            dwell_ms: rounded(handover.settle_dwell_ms.max(LEAST_DWELL_MS * slower)),
            beats,
            end: CuedBeat { turns: vec![], cues: home(), time_out_ms },
        }
    }
}

impl Timing {
    /// A plan with the cues that its beats start by: those of the scene's policy, or
    /// `waiting` for every face to settle whatever the policy. A time-out is twice the
    /// predicted wait and 50 ms more, within the scene's limit of a beat.
    #[must_use]
    pub fn cues(&self, plan: &Plan, waiting: bool) -> CueSheet {
        let machine = &self.machine;
        let policy = if waiting { Policy::Settle } else { machine.file.handover.policy };
        let mut sheet = machine.sheet(plan, policy);
        let run = self.followed(&sheet);
        let starts_s = run.beats.iter().map(|beat| beat.start_s());
        let end_s = (run.end == End::Completed).then_some(run.total_s);
        let mut before_s = 0.0;
        let beats = sheet.beats.iter_mut().chain([&mut sheet.end]);
        for (beat, at_s) in beats.zip(starts_s.chain(end_s)) {
            let (times, more_ms) = PATIENCE;
            let patience_ms = times * (at_s - before_s) * 1e3 + more_ms;
            beat.time_out_ms = rounded(patience_ms.min(beat.time_out_ms));
            before_s = at_s;
        }
        sheet
    }

    /// The run of a sheet if nothing is off.
    #[must_use]
    pub fn followed(&self, sheet: &CueSheet) -> Run {
        let trial = Seed::new(0).trial(0);
        self.machine.follow(sheet, &CubeState::SOLVED, trial, Detail::Figures)
    }
}

/// Which faces a sheet's beats wait for.
#[cfg(test)]
mod tests {
    use super::*;

    fn late(turn: &str, to_deg: f64) -> Pending {
        let turn = dryturn_cube::notation::parse(turn).unwrap()[0];
        Pending { beat: 0, turn, to_deg }
    }

    #[test]
    fn angles_are_rounded_towards_the_end_of_the_turn() {
        assert_eq!(passed(late("U", 90.0), 7.6996), Cue::Above(Face::U, 82.301));
        assert_eq!(passed(late("U'", -90.0), 7.6996), Cue::Below(Face::U, -82.301));
        assert_eq!(passed(late("U2", 270.0), 2.0), Cue::Above(Face::U, 268.0));
        assert_eq!(passed(late("R'", 90.0), 2.0), Cue::Below(Face::R, 92.0));
    }
}
