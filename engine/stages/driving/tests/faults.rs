//! Faults that are put in, and settings that cannot work.

mod help;

use dryturn_cube::Face;
use dryturn_driving::Machine;
use dryturn_handoff::{Cause, End, Stop};
use help::{exact, long, plan, run, runs, scene};
use serde_json::{Value, json};

fn cause(changes: &[(&str, Value)]) -> Option<Cause> {
    run(&exact(changes), &long(), 0).stop().map(|stop| stop.cause)
}

#[test]
fn an_emergency_stop_in_mid_beat() {
    let scene = exact(&[("faults.emergency_stop_at_ms", json!(120.0))]);
    let run = run(&scene, &long(), 0);
    let stop = run.stop().expect("a stop");
    assert_eq!(stop.cause, Cause::EmergencyStop);
    assert!((stop.time_s - 0.120).abs() < 2e-4);
    assert!(run.rest_deg.iter().any(|off| off.abs() > 2.0), "{:?}", run.rest_deg);
    assert_eq!(run.beats.len(), stop.beat + 1);
}

/// A beat whose command was still on its way has no times: it is not told of.
#[test]
fn a_beat_that_never_began_is_none() {
    let changes =
        [("faults.emergency_stop_at_ms", json!(1.0)), ("link.command_latency_ms", json!(5.0))];
    let run = run(&exact(&changes), &long(), 0);
    assert_eq!(run.stop().map(|stop| stop.cause), Some(Cause::EmergencyStop));
    assert!(run.beats.is_empty(), "{:?}", run.beats);
}

/// What an emergency stop has left can be squared, and then stands within what the pieces
/// forgive.
#[test]
fn faces_can_be_squared_after_a_stop() {
    let mut squared = 0;
    for at_ms in [20.0, 60.0, 110.0, 240.0, 333.0] {
        let scene = scene(&[("faults.emergency_stop_at_ms", json!(at_ms))]);
        let machine = Machine::of(&scene);
        let run = runs(&machine, &long(), 0);
        let after = machine.square(&run.rest_deg, dryturn_units::noise::Seed::new(1).trial(0));
        let worst = after.rest_deg.iter().map(|off| off.abs()).fold(0.0, f64::max);
        assert_eq!(after.stuck.is_empty(), worst <= 1.5, "{after:?}");
        squared += usize::from(after.stuck.is_empty());
        assert!(after.total_s < 10.0);
    }
    assert!(squared >= 4, "{squared} of 5");
}

#[test]
fn a_dead_link_trips_the_watchdogs() {
    let changes = [("faults.link_cut_at_ms", json!(100.0)), ("link.watchdog_ms", json!(50.0))];
    let run = run(&exact(&changes), &long(), 0);
    let stop = run.stop().expect("a stop");
    assert_eq!(stop.cause, Cause::Watchdog);
    assert!((stop.time_s - 0.150).abs() < 2e-4, "{}", stop.time_s);
}

/// Lost and corrupted frames are sent again, which takes time; too many end the run.
#[test]
fn lost_frames_are_sent_again() {
    let whole = run(&exact(&[]), &long(), 0);
    let lossy = [("link.frame_loss_share", json!(0.1)), ("link.frame_corrupt_share", json!(0.1))];
    let run = run(&exact(&lossy), &long(), 0);
    assert_eq!(run.end, End::Completed);
    assert!(run.resent > 0 && whole.resent == 0);
    let late_s = run.total_s - whole.total_s;
    // Five milliseconds each, at most; a beat of two turns waits for the later one.
    assert!(late_s > 0.004 && late_s < 0.005 * run.resent as f64 + 0.01, "{late_s}");
    let all = [("link.frame_loss_share", json!(1.0))];
    assert_eq!(cause(&all), Some(Cause::LinkLost(Face::R)));
}

/// A stall is noticed after its time, long before the beat is given up, however long that
/// time is.
#[test]
fn stalls_are_noticed_in_time() {
    let settings = |stall_ms: f64| {
        Machine::of(&scene(&[
            ("drive.friction_torque_n_m", json!(0.40)),
            ("tolerances.friction_spread_sigma_share", json!(0.25)),
            ("tolerances.homing_error_sigma_deg", json!(0.2)),
            ("detection.following_error_deg", json!(360.0)),
            ("detection.stall_time_ms", json!(stall_ms)),
        ]))
    };
    let given_up = |stall_ms: f64| {
        let machine = settings(stall_ms);
        let causes = (0..40).filter_map(|trial| runs(&machine, &long(), trial).stop().copied());
        let (late, stalled): (Vec<_>, Vec<_>) =
            causes.partition(|stop| matches!(stop.cause, Cause::NotSettled(_)));
        (late.len(), stalled.len())
    };
    for stall_ms in [8.0, 25.0, 60.0] {
        let (late, stalled) = given_up(stall_ms);
        assert!(stalled > 3 && late == 0, "{stall_ms} ms: {stalled} stalled, {late} given up");
    }
}

/// Faces that swing through their window for ever are given up once a beat's time and the
/// dwell are over; these runs once had no end.
#[test]
fn a_dwell_that_never_ends_is_given_up() {
    let restless: [&[(&str, Value)]; 3] = [
        &[("controller.deadband_deg", json!(0.5)), ("handover.settle_window_deg", json!(0.05))],
        &[("controller.speed_gain_per_s", json!(0.0))],
        &[("controller.position_gain_per_s", json!(0.0))],
    ];
    for changes in restless {
        let dwell = [("handover.settle_dwell_ms", json!(50.0))];
        let machine = Machine::of(&scene(&[&dwell[..], changes].concat()));
        let stops = (0..20).filter_map(|trial| runs(&machine, &plan("R"), trial).stop().copied());
        let stops: Vec<_> = stops.collect();
        let swings = |stop: &&Stop| stop.cause == Cause::NotSteady(Face::R);
        assert!(stops.iter().any(|stop| swings(&stop)), "{changes:?}: {stops:?}");
        for stop in stops.iter().filter(swings) {
            // A millisecond or two on the link, the beat's second, the dwell, and once more what
            // one that was under way had left.
            assert!((1.05..1.11).contains(&stop.time_s) && stop.beat == 0, "{changes:?}: {stop}");
            assert!(
                stop.to_string().ends_with("R did not stay within its settle window"),
                "{stop}"
            );
        }
    }
    // Half a second of dwell that is kept goes on beyond the beat's time.
    let patient =
        [("handover.settle_dwell_ms", json!(500.0)), ("handover.beat_limit_ms", json!(100.0))];
    assert_eq!(run(&exact(&patient), &plan("R U"), 0).end, End::Completed);
}

/// A dwell begins anew when a face leaves its window again.
#[test]
fn a_dwell_waits_for_faces_to_stay() {
    let jams = |dwell_ms: f64| {
        help::jams(
            &scene(&[
                ("controller.speed_gain_per_s", json!(300.0)),
                ("controller.position_gain_per_s", json!(100.0)),
                ("controller.speed_integral_per_s", json!(50.0)),
                ("handover.settle_window_deg", json!(1.0)),
                ("controller.friction_feed_forward_ratio", json!(3.5)),
                ("handover.settle_dwell_ms", json!(dwell_ms)),
            ]),
            &long(),
            60,
        )
    };
    let (none, some) = (jams(0.0), jams(15.0));
    assert!(none > 10 && 2 * some < none, "{none} jams without a dwell, {some} with 15 ms");
}

/// A stiff shaft needs a finer step, and gets it.
#[test]
fn stiff_shafts_do_not_blow_up() {
    let mut changes = vec![("controller.loop_period_ms".to_owned(), json!(0.5))];
    for face in ["U", "R", "F", "D", "L", "B"] {
        changes.push((format!("shafts.{face}.shear_modulus_gpa"), json!(80.0)));
        changes.push((format!("shafts.{face}.shear_strength_mpa"), json!(300.0)));
    }
    let changes: Vec<(&str, Value)> =
        changes.iter().map(|(path, value)| (path.as_str(), value.clone())).collect();
    let run = run(&exact(&changes), &plan("R U F"), 0);
    let peak = run.axes.iter().map(|axis| axis.peak_torque_n_m).fold(0.0, f64::max);
    assert!(peak < 3.0, "{peak} N·m in a shaft");
}

/// What is not there does not turn.
#[test]
fn a_face_without_a_shaft_is_not_turned() {
    let bare = [("shafts.U.fitted", json!(false))];
    assert_eq!(cause(&bare), Some(Cause::NoShaft(Face::U)));
}

/// A chopper that is stuck on heats its resistor until the cut-out opens: at 48 V and
/// 3 Ω, 770 W into 20 J/K are 38 K a second.
#[test]
fn a_stuck_chopper_cooks_its_resistor() {
    let stuck = ("faults.chopper_stuck_on", json!(true));
    let warm = run(&exact(std::slice::from_ref(&stuck)), &long(), 0);
    let rate = (warm.power.resistor_c - 25.0) / warm.total_s;
    assert!((28.0..40.0).contains(&rate), "{rate} K/s");
    let small = ("supply.resistor_heat_capacity_j_per_k", json!(2.0));
    assert_eq!(cause(&[stuck, small]), Some(Cause::ResistorHot));
}

/// Without a chopper that could burn it, what braking returns trips the drives: 0.15 J a
/// quarter turn into 0.1 mF at 48 V (½ C V² by hand: 73 V).
#[test]
fn braking_pumps_a_small_capacitor_up() {
    let changes =
        [("supply.capacitance_uf", json!(100.0)), ("supply.chopper_above_v", json!(50.0))];
    assert_eq!(cause(&changes), Some(Cause::OverVoltage));
}

#[test]
fn a_weak_supply_sags() {
    let changes =
        [("supply.source_current_limit_a", json!(0.5)), ("supply.under_voltage_share", json!(0.9))];
    assert_eq!(cause(&changes), Some(Cause::UnderVoltage));
}

/// Gains that ring end in a clear outcome, in bounded time.
#[test]
fn gains_that_ring_are_given_up() {
    for gains in [
        [("controller.position_gain_per_s", 20000.0), ("controller.speed_gain_per_s", 1000.0)],
        [("controller.position_gain_per_s", 250.0), ("controller.current_time_constant_ms", 8.0)],
        [("controller.inertia_feed_forward_ratio", 0.5), ("controller.speed_gain_per_s", 0.0)],
    ] {
        let changes = gains.map(|(path, value)| (path, json!(value)));
        let run = run(&exact(&changes), &plan("R U F"), 0);
        assert_ne!(run.end, End::Completed, "{gains:?}");
        assert!(run.failure().is_some() && run.total_s < 4.0);
        let finite = run.axes.iter().all(|axis| axis.peak_torque_n_m.is_finite());
        assert!(finite && run.energy.supply_j.is_finite());
    }
}

/// More friction than torque: the axis stalls, and says so.
#[test]
fn an_axis_that_cannot_move_stalls() {
    let changes = [
        ("drive.friction_torque_n_m", json!(0.44)),
        ("tolerances.friction_spread_sigma_share", json!(0.5)),
    ];
    let machine = Machine::of(&scene(&changes));
    let stalled = (0..40).filter(|&trial| {
        let run = runs(&machine, &plan("R U F"), trial);
        matches!(
            run.stop().map(|stop| stop.cause),
            Some(Cause::Stalled(_) | Cause::FollowingError(_))
        )
    });
    assert!(stalled.count() > 5);
}
