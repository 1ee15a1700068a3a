//! Whoever takes the place of the built-in controllers.

use dryturn_cube::Face;
use dryturn_driving::{
    ControllerAnswer, ControllerBrief, ControllerSeat, ControllerSees, HostAnswer, HostSees,
    Machine, Seated, Seats, SetPoint,
};
use dryturn_handoff::{Cause, End, GuestRole, SeatFault};
use serde_json::json;

use crate::controllers::{Asks, Cascade, Plays};
use crate::help::{exact, long, plan, scene};
use crate::hosts::Does;
use crate::{built_in, cause, controlled, seated};

/// The built-in cascade, written anew behind the seat, moves every axis as the built-in one does:
/// over 20 turns and more, in five trials, the angles are the same to what the order of sums and
/// degrees for radians change.
#[test]
fn a_cascade_in_the_seat_is_the_built_in_one() {
    let scene = scene(&[]);
    let machine = Machine::of(&scene);
    for trial in 0..5 {
        let ours = built_in(&machine, &long(), trial);
        let Seated { run, fault, .. } =
            controlled(&machine, &long(), trial, &mut Cascade::of(&scene));
        assert!(run.end == End::Completed && fault.is_none(), "{:?}", run.end);
        let (a, b) = (&ours.trace.angles_deg, &run.trace.angles_deg);
        assert_eq!((ours.beats.len(), ours.total_s, a.len()), (21, run.total_s, b.len()));
        let pairs = a.as_flattened().iter().zip(b.as_flattened());
        let off_deg = pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(off_deg < 1e-6, "trial {trial}: {off_deg:e}°");
    }
}

/// Set-points for the built-in loops: the profile of the brief, played, takes as long as where the
/// drive plays it. Accelerations are taken from speeds, so that angles differ by little.
#[test]
fn set_points_are_followed() {
    let machine = Machine::of(&scene(&[]));
    for trial in 0..5 {
        let ours = built_in(&machine, &long(), trial);
        let Seated { run, .. } = controlled(&machine, &long(), trial, &mut Plays::default());
        assert_eq!((&run.end, run.final_state), (&End::Completed, ours.final_state));
        assert!(
            (run.total_s / ours.total_s - 1.0).abs() < 0.02,
            "{} {}",
            run.total_s,
            ours.total_s
        );
    }
}

/// A controller that is heard late follows worse.
#[test]
fn a_controller_that_thinks_is_heard_late() {
    let scene = exact(&[("detection.enabled", json!(false))]);
    let machine = Machine::of(&scene);
    let error_deg = |controller_latency_ms: f64| {
        let mut cascade = Cascade::of(&scene);
        let seats =
            Seats { controller: Some(&mut cascade), controller_latency_ms, ..Seats::default() };
        let trace = seated(&machine, &plan("R"), 0, seats).run.trace;
        let last = trace.encoders_deg.iter().map(|at| at[Face::R.index()]).fold(0.0, f64::max);
        last - 90.0
    };
    let (quick, late) = (error_deg(0.0), error_deg(1.0));
    assert!(late > quick + 0.2, "overshoots {quick}° and {late}°");
}

fn asked(currents_a: [f64; 6]) -> Result<ControllerAnswer, SeatFault> {
    Ok(ControllerAnswer::Currents(currents_a))
}

/// What is no number is a fault, what is too large counts as the limit.
#[test]
fn nonsense_from_a_controller_is_a_fault_and_too_much_is_the_limit() {
    let machine = Machine::of(&exact(&[("detection.enabled", json!(false))]));
    let currents = |value: f64| move |_: &ControllerSees| asked([value; 6]);
    for value in [f64::NAN, f64::INFINITY] {
        let seated = controlled(&machine, &plan("R"), 0, &mut Asks(currents(value)));
        assert_eq!(cause(&seated), Some(Cause::Guest(GuestRole::Controller)));
        let fault = seated.fault.unwrap().to_string();
        assert!(fault.contains(&format!("current {value} on U: must be a number")), "{fault}");
    }
    let limit = machine.settings();
    let limit_a = limit.torque_limit_n_m / limit.torque_constant_n_m_per_a;
    for value in [1e300, -1e300] {
        let seated = controlled(&machine, &plan("R"), 0, &mut Asks(currents(value)));
        let peak_a = seated.run.axes.iter().map(|axis| axis.peak_current_a).fold(0.0, f64::max);
        assert!(peak_a <= 1.05 * limit_a, "{peak_a} A of {limit_a}");
        assert!(seated.run.end != End::Completed && seated.fault.is_none());
    }
    let point = SetPoint { angle_deg: 1e300, speed_deg_s: -1e300, feed_forward_n_m: 1e300 };
    let far = |_: &ControllerSees| Ok(ControllerAnswer::SetPoints([point; 6]));
    let seated = controlled(&machine, &plan("R"), 0, &mut Asks(far));
    assert!(seated.run.end != End::Completed && seated.fault.is_none());
    let point = SetPoint { feed_forward_n_m: f64::NAN, ..point };
    let none = |_: &ControllerSees| Ok(ControllerAnswer::SetPoints([point; 6]));
    let fault = controlled(&machine, &plan("R"), 0, &mut Asks(none)).fault.unwrap().to_string();
    assert!(fault.contains("feed-forward NaN on U"), "{fault}");
}

/// An axis at rest is not left alone when something else is asked of it, though nobody commanded
/// it: after 50 ms of nothing a quarter of the current turns D.
#[test]
fn an_axis_at_rest_hears_what_is_asked() {
    let machine = Machine::of(&exact(&[("detection.enabled", json!(false))]));
    let quarter_a = {
        let set = machine.settings();
        0.25 * set.torque_limit_n_m / set.torque_constant_n_m_per_a
    };
    let mut counts = Vec::new();
    let mut late = Asks(|sees: &ControllerSees| {
        counts.push(sees.axes[3].encoder_counts);
        let mut currents_a = [0.0; 6];
        currents_a[3] = if sees.time_s < 0.05 { 0.0 } else { quarter_a };
        asked(currents_a)
    });
    let mut idle = Does(|_, _: &HostSees| Ok(HostAnswer::WAIT), 0);
    let seats = Seats { host: Some(&mut idle), controller: Some(&mut late), ..Seats::default() };
    seated(&machine, &plan("R"), 0, seats);
    let before = counts[..400].iter().max();
    let after = counts[400..480].iter().max();
    assert!(after > before, "{before:?} {after:?}");
}

/// A controller that fails at any tick ends the run there.
#[test]
fn a_controller_may_fail_at_any_tick() {
    let scene = exact(&[]);
    let machine = Machine::of(&scene);
    for at in [0, 1, 100, 700] {
        let mut cascade = Cascade::of(&scene);
        let mut begun = false;
        let mut fails = Failing { inner: &mut cascade, at, asked: 0, begun: &mut begun };
        let seated = controlled(&machine, &long(), 0, &mut fails);
        assert_eq!(cause(&seated), Some(Cause::Guest(GuestRole::Controller)));
        let time_s = seated.run.stop().unwrap().time_s;
        assert!((time_s - at as f64 * 1.25e-4).abs() < 2e-4, "{time_s} for tick {at}");
        assert_eq!(seated.fault.unwrap().fault.kind, "enough");
        // It is not asked again.
        assert_eq!((fails.asked, begun), (at + 1, true));
    }
}

struct Failing<'a> {
    inner: &'a mut Cascade,
    at: usize,
    asked: usize,
    begun: &'a mut bool,
}

impl ControllerSeat for Failing<'_> {
    fn name(&self) -> &str {
        "failing"
    }

    fn begin(&mut self, brief: &ControllerBrief<'_>) -> Result<(), SeatFault> {
        *self.begun = true;
        self.inner.begin(brief)
    }

    fn tick(&mut self, sees: &ControllerSees) -> Result<ControllerAnswer, SeatFault> {
        self.asked += 1;
        if self.asked > self.at {
            Err(SeatFault::new("tick", "enough", "it has had enough"))
        } else {
            self.inner.tick(sees)
        }
    }
}
