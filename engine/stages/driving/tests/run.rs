//! What a run must do, whatever the figures.

mod help;

use dryturn_cube::{CubeState, notation, random_state};
use dryturn_driving::{Machine, Timing, simulate};
use dryturn_handoff::End;
use dryturn_units::noise::Seed;
use help::{again, exact, long, plan, run, runs, scene};
use serde_json::json;

/// Eight quarter turns of a lone axis take about 400 ms at 30 V and 290 ms at 48 V
/// (design targets, assumed): by the three presets that were fitted to that, with
/// controllers, latency and overhead. The fourth makes half turns in those times.
#[test]
fn eight_turns_of_a_lone_axis() {
    for (preset, turn) in [
        ("TorqueFollowsBus", "R"),
        ("WindingLine", "R"),
        ("SpeedLimited", "R"),
        ("HighTorque", "R2"),
    ] {
        for (voltage, wanted_s) in [(30.0, 0.400), (48.0, 0.290)] {
            let scene =
                exact(&[("drive.preset", json!(preset)), ("drive.bus_voltage_v", json!(voltage))]);
            let run = run(&scene, &again(turn, 8), 0);
            assert_eq!(run.end, End::Completed);
            assert_eq!(run.final_state, CubeState::SOLVED);
            let off = run.total_s / wanted_s - 1.0;
            assert!((0.0..0.06).contains(&off), "{preset}: {} s at {voltage} V", run.total_s);
        }
    }
}

/// What tells the presets apart is how much longer a half turn takes (√2 for constant
/// torque; up to 2 where speed is the limit: closed forms of minimum-time moves).
#[test]
fn half_turns_tell_the_presets_apart() {
    let ratio = |preset: &str| {
        let costs = Timing::of(&exact(&[("drive.preset", json!(preset))])).costs().unwrap();
        costs.half_s / costs.quarter_s
    };
    let ratios = ["TorqueFollowsBus", "WindingLine", "SpeedLimited"].map(ratio);
    assert!(ratios.is_sorted() && ratios[1] - ratios[0] > 0.05, "{ratios:?}");
    assert!(ratios[2] - ratios[1] > 0.2, "{ratios:?}");
}

/// A motor of high speed constant is held back by its profile: the voltage does not
/// matter.
#[test]
fn a_profile_limited_motor_does_not_care_for_the_voltage() {
    let time = |voltage: f64| {
        let preset = ("drive.preset", json!("ProfileLimited"));
        run(&exact(&[preset, ("drive.bus_voltage_v", json!(voltage))]), &long(), 0).total_s
    };
    assert!((time(24.0) / time(48.0) - 1.0).abs() < 0.002, "{} {}", time(24.0), time(48.0));
}

/// A plan of 21 turns takes about 1.3 s at 30 V and 1.0 s at 48 V (design targets,
/// assumed): the fitted presets lie around that or below.
#[test]
fn a_whole_plan_takes_about_a_second() {
    for preset in ["TorqueFollowsBus", "WindingLine", "SpeedLimited"] {
        for (voltage, range_s) in [(30.0, 1.05..1.45), (48.0, 0.8..1.1)] {
            let scene =
                exact(&[("drive.preset", json!(preset)), ("drive.bus_voltage_v", json!(voltage))]);
            let run = run(&scene, &long(), 0);
            assert!(range_s.contains(&run.total_s), "{preset}: {} s at {voltage} V", run.total_s);
        }
    }
}

/// Executing what was planned turns the cube as planned; angles add up.
#[test]
fn a_run_without_a_jam_turns_the_cube_as_planned() {
    let scene = exact(&[]);
    let turns = notation::parse("R U2 F' D L B2 U D' R2").unwrap();
    let plan = dryturn_handoff::Plan::of_turns(&turns);
    let start = random_state(&mut Seed::new(4).stream("test", 0, 0));
    let run = simulate(&scene, &start, &plan, Seed::new(1).trial(0));
    assert_eq!(run.end, End::Completed);
    assert_eq!(run.final_state, start.turned_by(&turns));
    let last = run.trace.angles_deg.last().unwrap();
    let wanted = [270.0, 270.0, -90.0, 0.0, 90.0, 180.0];
    for (angle, wanted) in last.iter().zip(wanted) {
        assert!((angle - wanted).abs() < 0.7, "{last:?}");
    }
    // Beats start in order, each after the one before has begun.
    assert!(run.beats.is_sorted_by(|a, b| a.start_s() < b.start_s() && a.stop_s() < b.stop_s()));
    let lists = [run.trace.bus_v.len(), run.trace.gaps_mm.len(), run.trace.winding_c.len()];
    assert!(lists.iter().all(|&n| n == run.trace.angles_deg.len()));
    // Encoders stand at the motors: off the faces by the shafts' twist while they turn, and
    // by little at the end.
    let trace = &run.trace;
    assert_eq!(trace.encoders_deg.len(), trace.angles_deg.len());
    let pairs = trace.encoders_deg.as_flattened().iter().zip(trace.angles_deg.as_flattened());
    let twist_deg = pairs.map(|(motor, face)| (motor - face).abs()).fold(0.0, f64::max);
    assert!((0.3..10.0).contains(&twist_deg), "{twist_deg}");
    let ends = trace.encoders_deg.last().unwrap().iter().zip(last);
    assert!(ends.clone().all(|(motor, face)| (motor - face).abs() < 2.0), "{ends:?}");
}

#[test]
fn the_same_names_give_the_same_run() {
    let scene = scene(&[]);
    let plan = plan("R U F D L B");
    let run = |trial| simulate(&scene, &CubeState::SOLVED, &plan, Seed::new(1).trial(trial));
    assert_eq!(run(0), run(0));
    assert_ne!(run(0).total_s, run(1).total_s);
}

/// A face that turns twice in a row settles in between, whatever the release angle.
#[test]
fn a_face_that_turns_again_first_settles() {
    let scene = exact(&[
        ("handover.policy", json!("Release")),
        ("handover.release_angle_deg", json!(45.0)),
    ]);
    let run = simulate(&scene, &CubeState::SOLVED, &plan("R L R2"), Seed::new(1).trial(0));
    assert!(run.beats[1].start_s() >= run.beats[0].turns[0].stop_s);
    assert_eq!(run.end, End::Completed);
}

/// Where the energy goes, over whole runs: each term integrated by itself, to 0.1 % of
/// what the supply gave; with and without jams, at every preset.
#[test]
fn energy_is_accounted_for() {
    let mut worst: f64 = 0.0;
    for preset in
        ["TorqueFollowsBus", "WindingLine", "SpeedLimited", "HighTorque", "ProfileLimited"]
    {
        for homing in [0.1, 0.8] {
            let scene = scene(&[
                ("drive.preset", json!(preset)),
                ("tolerances.homing_error_sigma_deg", json!(homing)),
            ]);
            let machine = Machine::of(&scene);
            for trial in 0..10 {
                let energy = runs(&machine, &long(), trial).energy;
                let parts = [energy.source_j, energy.copper_j, energy.friction_j, energy.brake_j];
                assert!(parts.iter().all(|part| *part >= 0.0), "{energy:?}");
                let share = (energy.unaccounted_j() / energy.supply_j).abs();
                assert!(share < 1e-3, "{preset}, trial {trial}: {share:e} of {energy:?}");
                worst = worst.max(share);
            }
        }
    }
    assert!(worst > 0.0, "an energy that adds up exactly was not integrated");
}

/// Half the step: the same time.
#[test]
fn the_step_does_not_matter_for_the_time() {
    let machine = Machine::of(&scene(&[]));
    let finer = machine.clone().with_steps_per_tick(10);
    for trial in 0..10 {
        let (one, other) = (runs(&machine, &long(), trial), runs(&finer, &long(), trial));
        let off = (one.total_s / other.total_s - 1.0).abs();
        assert!(off < 1e-3, "trial {trial}: {off:e}");
    }
}

/// And the same verdicts, at settings where many runs jam: of 1,000 trials with mis-homed
/// axes hardly one ends otherwise with half the step.
#[test]
fn the_step_does_not_matter_for_the_verdict() {
    const TRIALS: u64 = 1000;
    let machine = Machine::of(&scene(&[("tolerances.homing_miss_share", json!(0.03))]));
    let finer = machine.clone().with_steps_per_tick(10);
    let verdict = |machine: &Machine, trial| match runs(machine, &long(), trial).end {
        End::Completed => 0,
        End::Jammed(_) => 1,
        End::Stopped(_) => 2,
    };
    let count = |from: u64| {
        let of = |trial| (verdict(&machine, trial), verdict(&finer, trial));
        (from..TRIALS).step_by(2).map(of).fold((0, 0), |(jams, differ), (one, other)| {
            (jams + usize::from(one == 1), differ + usize::from(one != other))
        })
    };
    let (even, odd) = std::thread::scope(|scope| {
        let odd = scope.spawn(|| count(1));
        (count(0), odd.join().unwrap())
    });
    let (jams, differ) = (even.0 + odd.0, even.1 + odd.1);
    assert!((50..=300).contains(&jams), "{jams} jams");
    assert!(differ <= 3, "{differ} of {TRIALS} verdicts differ, {jams} jams");
}
