//! Below a ceiling, and by cues: what a rig is handed.

mod help;

use dryturn_cube::{CubeState, Face};
use dryturn_driving::{Ceiling, Detail, Lead, Machine, Timing};
use dryturn_handoff::{Cause, Cue, CueSheet, End, Run};
use dryturn_scene::Scene;
use dryturn_units::maths;
use dryturn_units::noise::Seed;
use help::{Changes, exact, long, plan, runs, scene};
use serde_json::json;

fn below(scene: &Scene, share: f64) -> Machine {
    Machine::below(scene, Ceiling::of(scene, share).unwrap())
}

fn timing(scene: &Scene, share: f64) -> Timing {
    Timing::below(scene, Ceiling::of(scene, share).unwrap())
}

/// Time over ceiling is the closed form of a move that torque limits, t ∝ torque^−½ (with
/// limits of speed and jerk too, if they are slowed down likewise; L. Biagiotti and
/// C. Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008, on scaling
/// trajectories in time), for every profile.
#[test]
fn moves_take_the_root_of_the_ceiling_longer() {
    for (preset, profile) in [
        ("TorqueFollowsBus", "MinimumTime"),
        ("TorqueFollowsBus", "BangBang"),
        ("WindingLine", "MinimumTime"),
        ("SpeedLimited", "MinimumTime"),
        ("ProfileLimited", "Trapezoid"),
        ("ProfileLimited", "SCurve"),
    ] {
        let scene = scene(&[("drive.preset", json!(preset)), ("drive.profile", json!(profile))]);
        let full = Machine::of(&scene).settings();
        for share in [0.05, 0.25, 0.5] {
            let set = below(&scene, share).settings();
            for (slow, quick, power) in [
                (set.quarter_turn_ms, full.quarter_turn_ms, -0.5),
                (set.half_turn_ms, full.half_turn_ms, -0.5),
                (set.highest_speed_rad_s, full.highest_speed_rad_s, 0.5),
                (set.highest_acceleration_rad_s2, full.highest_acceleration_rad_s2, 1.0),
            ] {
                let ratio = slow / quick / maths::pow(share, power);
                // Set-points are taken every tick.
                assert!((ratio - 1.0).abs() < 0.01, "{preset} {profile} {share}: {ratio}");
            }
            assert!(set.torque_limit_n_m < full.torque_limit_n_m);
        }
    }
}

#[test]
fn a_ceiling_is_a_share_of_what_friction_leaves() {
    let scene = scene(&[]);
    for share in [0.0, 0.009, 1.01, f64::NAN] {
        assert_eq!(Ceiling::of(&scene, share), None, "{share}");
    }
    let full = Machine::of(&scene);
    let whole = below(&scene, 1.0);
    assert_eq!(full.settings(), whole.settings());
    assert_eq!(runs(&full, &long(), 3), runs(&whole, &long(), 3));
    // 0.479 N·m at 48 V; friction of 0.156 N·m with four and a half standard deviations of 8, 5
    // and 2 %, and what shafts beside their axes may add: a few hundredths of a newton metre.
    let limit = 0.01175 * 48.0_f64;
    let friction = 0.156 * (1.0 + 4.5 * (0.08_f64 * 0.08 + 0.05 * 0.05 + 0.02 * 0.02).sqrt());
    let quarter = below(&scene, 0.25).settings().torque_limit_n_m;
    let most = limit.min(48.0 / 0.405 * 60.0 / (core::f64::consts::TAU * 100.0));
    let pressed = (quarter - 0.25 * most) / 0.75 - friction;
    assert!((0.001..0.04).contains(&pressed), "{quarter}: {pressed}");
}

fn followed(scene: &Scene, share: f64, waiting: bool, trial: u64) -> Run {
    let sheet = timing(scene, share).cues(&long(), waiting);
    let trial = Seed::new(2).trial(trial);
    below(scene, share).follow(&sheet, &CubeState::SOLVED, trial, Detail::Figures)
}

/// Cues do to a run what the policy does that they come from.
#[test]
fn cues_are_as_quick_as_their_policy() {
    for (policy, margin, angle) in
        [("Settle", 0.3, 2.0), ("Release", 0.3, 1.0), ("Predict", 0.3, 2.0), ("Predict", 0.0, 2.0)]
    {
        let changes: Changes<'_> = &[
            ("handover.policy", json!(policy)),
            ("handover.clearance_margin_deg", json!(margin)),
            ("handover.release_angle_deg", json!(angle)),
        ];
        for (scene, trial) in [(exact(changes), 0), (scene(changes), 7)] {
            for share in [0.25, 1.0] {
                let run = followed(&scene, share, false, trial);
                assert_eq!(run.end, End::Completed, "{policy} {share}");
                let machine = below(&scene, share);
                let trial = Seed::new(2).trial(trial);
                let own = machine.run(&CubeState::SOLVED, &long(), trial, Detail::Figures);
                let ratio = run.total_s / own.total_s;
                assert!((0.97..1.08).contains(&ratio), "{policy} {share}: {ratio}");
                assert_eq!(run.final_state, own.final_state);
            }
        }
    }
}

/// What is waited for: by each policy, and whatever the policy.
#[test]
fn each_policy_has_its_cues() {
    let turns = plan("U R' U2 D F");
    let cues = |policy: &str, waiting: bool| {
        let scene = scene(&[("handover.policy", json!(policy))]);
        let sheet = timing(&scene, 0.25).cues(&turns, waiting);
        assert_eq!(sheet.plan(), turns);
        assert_eq!(sheet.end.cues.len(), 6);
        sheet.beats.into_iter().map(|beat| beat.cues).collect::<Vec<_>>()
    };
    let settle = cues("Settle", false);
    assert_eq!(settle[0].len(), 6);
    assert_eq!(settle[1], [Cue::Settled(Face::U)]);
    // R alone: U has settled before R started.
    assert_eq!(settle[2], [Cue::Settled(Face::R)]);
    assert_eq!(settle[3], [Cue::Settled(Face::U), Cue::Settled(Face::D)]);
    let release = cues("Release", false);
    assert_eq!(release[1], [Cue::Above(Face::U, 88.0)]);
    // U turns again: it must have settled, though R may be on its way.
    assert_eq!(release[2], [Cue::Settled(Face::U), Cue::Below(Face::R, -88.0)]);
    // Of the beat before last R must have settled.
    assert_eq!(
        release[3],
        [Cue::Settled(Face::R), Cue::Above(Face::U, 268.0), Cue::Above(Face::D, 88.0)]
    );
    let predict = cues("Predict", false);
    // From where the table of leads has the late set-point, back by overhead and latency.
    let [Cue::Above(Face::U, deg)] = predict[1][..] else { panic!("{predict:?}") };
    let machine = below(&scene(&[("handover.policy", json!("Predict"))]), 0.25);
    let alike = |lead: &&Lead| !(lead.late_half || lead.next_half || lead.same_sense);
    let lead = machine.leads().iter().find(alike);
    let earlier_deg = 90.0 - deg - lead.unwrap().to_go_deg;
    assert!((1.0..12.0).contains(&earlier_deg), "{deg} {earlier_deg}");
    for policy in ["Release", "Predict"] {
        assert_eq!(cues(policy, true), settle);
    }
}

/// A turn that takes longer than its time-out stops everything, and an execution whose
/// friction is far beyond the drawing's ends so.
#[test]
fn what_does_not_come_in_time_is_stopped() {
    let scene = scene(&[]);
    let mut sheet = timing(&scene, 0.25).cues(&long(), true);
    let machine = below(&scene, 0.25);
    let run = |sheet: &CueSheet| {
        machine.follow(sheet, &CubeState::SOLVED, Seed::new(2).trial(1), Detail::Figures)
    };
    assert_eq!(run(&sheet).end, End::Completed);
    let wait_ms = sheet.beats[2].time_out_ms;
    assert!((100.0..400.0).contains(&wait_ms), "{wait_ms}");
    sheet.beats[2].time_out_ms = 20.0;
    let stopped = run(&sheet);
    let End::Stopped(stop) = &stopped.end else { panic!("{:?}", stopped.end) };
    assert_eq!((stop.cause, stop.beat), (Cause::NotSettled(Face::U), 1));
    // The second beat was commanded 20 ms before.
    let late_s = stop.time_s - stopped.beats[1].start_s();
    assert!((0.015..0.021).contains(&late_s), "{late_s}");
}
