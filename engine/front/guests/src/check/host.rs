//! A short run for a host, on axes that do as they are told: a command arrives after one tick, a
//! quarter turn takes 40 ticks and a half turn 60, at even speed, and the encoders read the
//! set-points.

use dryturn_cube::{Amount, Face, Turn, notation};
use dryturn_handoff::Plan;

use super::Asking;
use crate::command::{GuestCommand, Limits};
use crate::roles::{GuestHost, HostAnswer, HostBegin, HostView};

/// Turns of the run: five beats, one of them of two faces.
const TURNS: &str = "R U2 F B' L' D2";
const TICK_S: f64 = 1e-3;
/// A host that has not finished by then does not.
const MOST_TICKS: u64 = 3000;

/// The run as it stands.
struct Axes {
    setpoint_deg: [f64; 6],
    /// Of the moves under way: where they end, and how many ticks they still take.
    moving: [Option<(f64, u32)>; 6],
    target_deg: [f64; 6],
}

impl Axes {
    fn view(&self, tick: u64) -> HostView {
        HostView {
            time_s: tick as f64 * TICK_S,
            encoder_deg: self.setpoint_deg,
            setpoint_deg: self.setpoint_deg,
            busy: self.moving.map(|moving| moving.is_some()),
        }
    }

    fn step(&mut self) {
        for (setpoint, moving) in self.setpoint_deg.iter_mut().zip(&mut self.moving) {
            if let Some((end, ticks)) = *moving {
                *setpoint += (end - *setpoint) / f64::from(ticks);
                *moving = (ticks > 1).then_some((end, ticks - 1));
            }
        }
    }

    fn start(&mut self, turn: Turn) {
        let face = turn.face.index();
        let ticks = if turn.amount == Amount::Half { 60 } else { 40 };
        self.target_deg[face] += turn.amount.angle_deg();
        self.moving[face] = Some((self.target_deg[face], ticks));
    }
}

pub(super) fn check(command: &GuestCommand, limits: Limits, asking: &mut Asking) {
    let Some(mut guest) = asking.ask("hello", || GuestHost::start(command, limits)) else { return };
    asking.met(guest.session().name());
    let plan = Plan::of_turns(&notation::parse(TURNS).unwrap_or_default());
    let begin = HostBegin {
        beats: plan.beats.iter().map(|beat| beat.turns.clone()).collect(),
        tick_s: TICK_S,
        counts_per_turn: 1 << 14,
        settle_window_deg: 0.5,
        settle_dwell_ms: 0.0,
        beat_limit_ms: 1000.0,
        latency_ms: 1.0,
        release_angle_deg: 2.0,
        most_resends: 3,
        resend_after_ms: 2.0,
        watchdog_ms: 20.0,
        quarter_turn_s: 40.0 * TICK_S,
        half_turn_s: 60.0 * TICK_S,
        ..HostBegin::default()
    };
    if asking.ask(&format!("begin of {TURNS}"), || guest.begin(&begin)).is_some() {
        let what = format!("ticks of {TURNS}");
        asking.findings.asked.push(what.clone());
        run(&what, &plan, &mut guest, asking);
    }
    asking.ask("goodbye", || guest.goodbye());
}

fn run(what: &str, plan: &Plan, guest: &mut GuestHost, asking: &mut Asking) {
    let mut axes = Axes { setpoint_deg: [0.0; 6], moving: [None; 6], target_deg: [0.0; 6] };
    // Turns that have not been commanded, beat by beat.
    let mut left: Vec<Vec<Turn>> = plan.beats.iter().map(|beat| beat.turns.clone()).collect();
    left.reverse();
    let mut arriving: Vec<Turn> = Vec::new();
    for tick in 0..MOST_TICKS {
        axes.step();
        arriving.drain(..).for_each(|turn| axes.start(turn));
        let tick_name = format!("tick {tick} of {TURNS}");
        let asked = asking.findings.asked.len();
        let answer = asking.ask(&tick_name, || guest.tick(&axes.view(tick)));
        // Thousands of ticks are one question.
        asking.findings.asked.truncate(asked);
        let Some(HostAnswer { turns, done, stop }) = answer else { return };
        if let Some(why) = stop {
            asking.wrong(&tick_name, format!("it stops: {why}"), "a run to its end");
            return;
        }
        for turn in turns {
            if axes.moving[turn.face.index()].is_some() {
                let wrong = format!("it commands {turn} while {} moves", turn.face);
                asking.wrong(&tick_name, wrong, "a command when the set-point stands");
                return;
            }
            let next = left.last().cloned().unwrap_or_default();
            let Some(place) = next.iter().position(|other| *other == turn) else {
                let allowed: Vec<String> = next.iter().map(Turn::to_string).collect();
                let allowed = if allowed.is_empty() {
                    "no more turns".to_owned()
                } else {
                    allowed.join(" or ")
                };
                asking.wrong(&tick_name, format!("it commands {turn}"), allowed);
                return;
            };
            if let Some(beat) = left.last_mut() {
                beat.remove(place);
                if beat.is_empty() {
                    left.pop();
                }
            }
            arriving.push(turn);
        }
        if done {
            finished(&tick_name, &axes, &left, asking);
            return;
        }
    }
    let wrong = format!("it is not done after {MOST_TICKS} ticks of {TICK_S} s");
    asking.wrong(what, wrong, "done when the last face has settled");
}

fn finished(what: &str, axes: &Axes, left: &[Vec<Turn>], asking: &mut Asking) {
    if let Some(turn) = left.last().and_then(|beat| beat.first()) {
        asking.wrong(
            what,
            format!("it is done before it commanded {turn}"),
            "all turns of the plan",
        );
    } else if let Some(face) = Face::ALL.iter().find(|face| axes.moving[face.index()].is_some()) {
        let wrong = format!("it is done while {face} still turns");
        asking.wrong(what, wrong, "done when the last face has settled");
    }
}
