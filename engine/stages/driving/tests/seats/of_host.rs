//! Whoever takes the place of the built-in host.

use dryturn_cube::{CubeState, Face, notation};
use dryturn_driving::{HostAnswer, HostBrief, HostSeat, HostSees, Machine, Seated, Seats};
use dryturn_handoff::{Cause, End, GuestRole, Plan, Run, SeatFault, SimulationLimit};
use serde_json::json;

use crate::help::{exact, long, plan, scene};
use crate::hosts::{Does, Waits};
use crate::{built_in, cause, hosted, seated};

/// A host in the seat that waits as the policy `Settle` is written down gives the built-in host's
/// run to the bit: every turn at the same tick, whatever the draw, dwell, link or supply. (Only the
/// limits of the simulation are longer by what a seat may think.) Degrees and radians might round
/// a reading at the very edge of its window to either side; no step of these encoders lies there.
#[test]
fn a_host_that_waits_gives_the_built_in_run() {
    let dwell = ("handover.settle_dwell_ms", json!(3.0));
    let lossy = ("link.frame_loss_share", json!(0.1));
    let settings = [vec![], vec![dwell.clone()], vec![dwell, lossy]];
    for changes in settings {
        let mut changes = changes;
        changes.push(("handover.policy", json!("Settle")));
        let machine = Machine::of(&scene(&changes));
        for trial in 0..10 {
            let ours = built_in(&machine, &long(), trial);
            let Seated { run, fault, .. } =
                hosted(&machine, &long(), trial, &mut Waits::to_settle());
            assert!(ours.end == End::Completed && fault.is_none());
            assert_eq!(Run { limits: ours.limits, ..run }, ours, "trial {trial}");
        }
    }
}

/// A bad host, which starts the next beat when a face is 20° off, jams in the same trials as the
/// built-in policy `Release` at that angle, and in the same way.
#[test]
fn a_bad_host_jams_where_the_built_in_one_does() {
    let machine = Machine::of(&scene(&[
        ("handover.policy", json!("Release")),
        ("handover.release_angle_deg", json!(20.0)),
        ("drive.overhead_ms", json!(0.0)),
        ("link.command_latency_ms", json!(0.5)),
    ]));
    let mut jams = 0;
    for trial in 0..50 {
        let ours = built_in(&machine, &long(), trial);
        let Seated { run, .. } = hosted(&machine, &long(), trial, &mut Waits::until(20.0));
        jams += usize::from(run.jam().is_some());
        assert_eq!((run.end, run.beats), (ours.end, ours.beats), "trial {trial}");
    }
    assert!((10..=40).contains(&jams), "{jams} of 50");
}

/// A host that makes two beats of a pair has the luck of the plan's own in all turns after it.
#[test]
fn splitting_a_beat_changes_no_luck() {
    let machine = Machine::of(&scene(&[
        ("handover.policy", json!("Settle")),
        ("drive.overhead_ms", json!(0.0)),
    ]));
    let pairs = plan("R L U F B R");
    assert!(pairs.beats.len() < pairs.turns().len(), "{pairs:?}");
    let started = |host: &mut Waits, trial| {
        let run = hosted(&machine, &pairs, trial, host).run;
        assert_eq!(run.end, End::Completed);
        let commanded_s = host.commanded_s.clone();
        let turns = run.beats.into_iter().zip(commanded_s).flat_map(|(beat, commanded_s)| {
            beat.turns.into_iter().map(move |t| (t.turn.to_string(), t.start_s - commanded_s))
        });
        // Those of a pair begin as the link has it.
        let mut turns: Vec<(String, f64)> = turns.collect();
        turns.sort_by(|a, b| a.0.cmp(&b.0));
        turns
    };
    for trial in 0..5 {
        let whole = started(&mut Waits::to_settle(), trial);
        let split = started(&mut Waits::to_settle().one_by_one(), trial);
        assert_eq!(whole.len(), split.len());
        for ((turn, after_s), (same, split_s)) in whole.iter().zip(&split) {
            // The link takes as long, to a tick.
            assert_eq!(turn, same);
            assert!((split_s - after_s).abs() < 1.3e-4, "{turn}: {after_s} {split_s}");
        }
    }
}

/// What a host thinks delays what it commands, by as much.
#[test]
fn a_host_that_thinks_is_later() {
    let machine = Machine::of(&exact(&[]));
    let total_s = |host_latency_ms, host_period_ms| {
        let mut host = Waits::to_settle();
        let host: Option<&mut dyn HostSeat> = Some(&mut host);
        let seats = Seats { host, host_latency_ms, host_period_ms, ..Seats::default() };
        let run = seated(&machine, &long(), 0, seats).run;
        assert_eq!(run.end, End::Completed);
        run.total_s
    };
    let quick_s = total_s(0.0, 0.0);
    let beats = long().beats.len() as f64;
    // To a tick a beat.
    assert!((total_s(5.0, 0.0) - quick_s - 5e-3 * beats).abs() < 1.25e-4 * beats);
    let seldom_s = total_s(0.0, 2.0) - quick_s;
    assert!(seldom_s > 0.0 && seldom_s < 2e-3 * beats, "{seldom_s}");
}

/// A host that fails stops the rig as an emergency stop does at the same time.
#[test]
fn a_host_that_fails_is_an_emergency_stop() {
    let fails = |sees: &HostSees, host: &mut Waits| {
        if sees.time_s >= 0.120 {
            return Err(SeatFault::new("tick", "left", "it has left"));
        }
        host.tick(sees)
    };
    let machine = Machine::of(&exact(&[("handover.policy", json!("Settle"))]));
    let stopped = Machine::of(&exact(&[
        ("handover.policy", json!("Settle")),
        ("faults.emergency_stop_at_ms", json!(120.0)),
    ]));
    let mut waits = Waits::to_settle();
    let brief_only = hosted(&machine, &Plan::default(), 0, &mut waits);
    assert_eq!(brief_only.run.end, End::Completed);
    let mut waits = Begun(Waits::to_settle(), fails);
    let seated = hosted(&machine, &long(), 0, &mut waits);
    assert_eq!(cause(&seated), Some(Cause::Guest(GuestRole::Host)));
    let fault = seated.fault.unwrap();
    assert_eq!(fault.to_string(), "the host “begun” at “tick”: it has left");
    let ours = built_in(&stopped, &long(), 0);
    assert_eq!((seated.run.rest_deg, seated.run.trace), (ours.rest_deg, ours.trace));
}

/// A host that does something else than the one inside.
struct Begun<F>(Waits, F);

impl<F> HostSeat for Begun<F>
where
    F: FnMut(&HostSees, &mut Waits) -> Result<HostAnswer, SeatFault>,
{
    fn name(&self) -> &str {
        "begun"
    }

    fn begin(&mut self, brief: &HostBrief<'_>) -> Result<(), SeatFault> {
        self.0.begin(brief)
    }

    fn tick(&mut self, sees: &HostSees) -> Result<HostAnswer, SeatFault> {
        (self.1)(sees, &mut self.0)
    }
}

/// Every tick the same turn: the axis refuses the second.
#[test]
fn an_axis_that_moves_refuses_a_command() {
    let machine = Machine::of(&exact(&[]));
    let turn = notation::parse("R").unwrap();
    let every = |_: usize, _: &HostSees| Ok(HostAnswer::Turn(turn.clone()));
    let seated = hosted(&machine, &long(), 0, &mut Does(every, 0));
    assert_eq!(cause(&seated), Some(Cause::Refused(Face::R)));
    assert!(seated.run.total_s < 0.01 && seated.run.beats.len() < 40, "{:?}", seated.run.end);
    let twice = notation::parse("U U").unwrap();
    let both = |_: usize, _: &HostSees| Ok(HostAnswer::Turn(twice.clone()));
    let seated = hosted(&machine, &long(), 0, &mut Does(both, 0));
    assert_eq!(cause(&seated), Some(Cause::Refused(Face::U)));
}

/// Whatever a host does, its run ends.
#[test]
fn runs_end_whatever_their_host_does() {
    let machine = Machine::of(&exact(&[]));
    let idle = hosted(&machine, &long(), 0, &mut Does(|_, _: &HostSees| Ok(HostAnswer::WAIT), 0));
    assert!(matches!(cause(&idle), Some(Cause::Simulation(_))), "{:?}", idle.run.end);
    assert!(idle.run.total_s <= idle.run.limits.run_s + 1e-3);
    // A million turns at once.
    let flood = vec![notation::parse("R").unwrap()[0]; 1_000_000];
    let floods = |_: usize, _: &HostSees| Ok(HostAnswer::Turn(flood.clone()));
    let seated = hosted(&machine, &long(), 0, &mut Does(floods, 0));
    assert_eq!(cause(&seated), Some(Cause::Simulation(SimulationLimit::Commands)));
    // One face after another, for ever: each turns back and forth once it stands.
    let forever = |_: usize, sees: &HostSees| {
        let turn = notation::parse(if sees.setpoint_deg[1] > 45.0 { "R'" } else { "R" }).unwrap();
        let away = sees.setpoint_deg[1].rem_euclid(90.0).abs() > 1e-9;
        let waits = sees.moving[1] || away || !((sees.time_s * 1e3) as usize).is_multiple_of(50);
        Ok(if waits { HostAnswer::WAIT } else { HostAnswer::Turn(turn) })
    };
    let seated = hosted(&machine, &plan("R U"), 0, &mut Does(forever, 0));
    assert!(seated.run.stop().is_some(), "{:?}", seated.run.end);
    assert!(seated.run.beats.len() <= 108);
    // A host that says done while a face is on its way gains nothing: the rig comes to rest.
    let done = |asked: usize, sees: &HostSees| {
        Ok(match asked {
            0 => HostAnswer::Turn(notation::parse("R").unwrap()),
            _ if sees.encoder_deg[1] > 60.0 => HostAnswer::Done,
            _ => HostAnswer::WAIT,
        })
    };
    let run = hosted(&machine, &plan("R"), 0, &mut Does(done, 0)).run;
    let turned = CubeState::SOLVED.turned_by(&plan("R").turns());
    assert_eq!((run.end, run.final_state), (End::Completed, turned));
    assert!(run.rest_deg[1].abs() < 1.0, "{:?}", run.rest_deg);
    let waited = built_in(&machine, &plan("R"), 0);
    assert!((run.total_s - waited.total_s).abs() < 1e-12, "{} {}", run.total_s, waited.total_s);
}

/// A host stops everything for a reason of its own; a face without a shaft is found as ever.
#[test]
fn a_host_may_stop_everything() {
    let machine = Machine::of(&exact(&[]));
    let stops = |_: usize, _: &HostSees| Ok(HostAnswer::Stop("a hand is in the way".to_owned()));
    let seated = hosted(&machine, &long(), 0, &mut Does(stops, 0));
    assert_eq!(cause(&seated), Some(Cause::HostStopped));
    assert_eq!(seated.stopped_because.as_deref(), Some("a hand is in the way"));
    assert_eq!(seated.fault, None);
    let bare = Machine::of(&exact(&[("shafts.F.fitted", json!(false))]));
    let seated = hosted(&bare, &plan("R U F D L B"), 0, &mut Waits::to_settle());
    assert!(matches!(cause(&seated), Some(Cause::NoShaft(Face::F))), "{:?}", seated.run.end);
}
