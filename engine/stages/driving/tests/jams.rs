//! What makes faces jam, and what a jam does.

mod help;

use dryturn_cube::notation;
use dryturn_driving::{Interlock, Machine, Torques};
use dryturn_handoff::{Beat, JamVerdict, Plan};
use help::{exact, jams, long, run, runs, scene};
use serde_json::{Value, json};

const TRIALS: u64 = 120;

/// Jams of the long plan at each value of a setting, on top of others.
fn over(path: &str, values: &[f64], others: &[(&str, Value)]) -> Vec<usize> {
    let at = |value: &f64| {
        let changes = [others, &[(path, json!(value))]].concat();
        jams(&scene(&changes), &long(), TRIALS)
    };
    values.iter().map(at).collect()
}

/// Rises from hardly any to many, with no fall that chance does not explain.
fn rises(what: &str, jams: &[usize], least_at_the_end: usize) {
    let first = jams[0];
    let last = jams[jams.len() - 1];
    assert!(first <= 6, "{what}: {jams:?}");
    assert!(last >= least_at_the_end, "{what}: {jams:?}");
    for pair in jams.windows(2) {
        assert!(pair[1] + 6 >= pair[0], "{what}: {jams:?}");
    }
}

#[test]
fn badly_homed_axes_jam() {
    rises("homing", &over("tolerances.homing_error_sigma_deg", &[0.1, 0.5, 1.0], &[]), 60);
}

#[test]
fn releasing_too_early_jams() {
    let release = [("handover.policy", json!("Release"))];
    rises("release", &over("handover.release_angle_deg", &[4.0, 20.0, 40.0], &release), 60);
}

/// With the friction grows what the controller must make up for; with the lift shrinks
/// what the pieces forgive.
#[test]
fn a_tighter_cube_jams() {
    let badly_homed = [("tolerances.homing_error_sigma_deg", json!(0.35))];
    rises("tension", &over("cube.tension_ratio", &[0.25, 1.0, 2.3], &badly_homed), 40);
}

/// Commands that come too early after an axis that was released early.
#[test]
fn a_jittery_link_jams() {
    let early = [
        ("handover.policy", json!("Release")),
        ("handover.release_angle_deg", json!(20.0)),
        ("link.command_latency_ms", json!(4.0)),
        ("drive.overhead_ms", json!(0.0)),
    ];
    rises("jitter", &over("link.command_jitter_sigma_ms", &[0.4, 4.0], &early), 8);
}

/// A controller of weak gains that thinks the friction larger than it is.
#[test]
fn a_wrong_friction_feed_forward_jams() {
    let weak = [
        ("controller.speed_gain_per_s", json!(300.0)),
        ("controller.position_gain_per_s", json!(100.0)),
        ("controller.speed_integral_per_s", json!(50.0)),
        ("handover.settle_window_deg", json!(1.0)),
    ];
    let jams = over("controller.friction_feed_forward_ratio", &[1.0, 2.0, 3.5], &weak);
    rises("feed-forward", &jams, 12);
}

/// A 20 % infill shaft breaks in a jam, a solid one, about twice as heavy, holds (a design
/// target, assumed). Jams as they come when homing is bad, with no drive watching.
#[test]
fn a_hollow_shaft_breaks_in_a_jam_and_a_solid_one_holds() {
    let verdicts = |infill: f64| {
        let mut changes = vec![
            ("tolerances.homing_error_sigma_deg".to_owned(), json!(2.0)),
            ("detection.enabled".to_owned(), json!(false)),
        ];
        for face in ["U", "R", "F", "D", "L", "B"] {
            changes.push((format!("shafts.{face}.infill_share"), json!(infill)));
        }
        let changes: Vec<(&str, Value)> =
            changes.iter().map(|(path, value)| (path.as_str(), value.clone())).collect();
        let machine = Machine::of(&scene(&changes));
        let mut count = (0, 0);
        for trial in 0..60 {
            match runs(&machine, &long(), trial).jam().map(|jam| jam.verdict) {
                Some(JamVerdict::ShaftBroken) => count.0 += 1,
                Some(_) => count.1 += 1,
                None => {}
            }
        }
        count
    };
    let (hollow, solid) = (verdicts(0.2), verdicts(1.0));
    assert!(hollow.0 >= 9 * (hollow.0 + hollow.1) / 10, "hollow: broken, stalled {hollow:?}");
    assert!(solid.1 >= 9 * (solid.0 + solid.1) / 10, "solid: broken, stalled {solid:?}");
    assert!(hollow.0 > 10 && solid.1 > 10, "{hollow:?}, {solid:?}");
}

/// Shafts see less where drives notice and cut the torque; the later, the more.
#[test]
fn detection_spares_the_shafts() {
    let peak = |changes: &[(&str, Value)]| {
        let changes = [changes, &[("tolerances.homing_error_sigma_deg", json!(2.0))]].concat();
        let machine = Machine::of(&scene(&changes));
        let jams: Vec<f64> = (0..60)
            .filter_map(|trial| runs(&machine, &long(), trial).jam().map(|j| j.peak_torque_n_m))
            .collect();
        assert!(jams.len() > 20);
        jams.iter().sum::<f64>() / jams.len() as f64
    };
    let quick = peak(&[("detection.following_error_deg", json!(4.0))]);
    let slow = peak(&[
        ("detection.following_error_deg", json!(20.0)),
        ("detection.cut_off_latency_ms", json!(10.0)),
    ]);
    let none = peak(&[("detection.enabled", json!(false))]);
    assert!(quick < slow && slow <= none * 1.02, "{quick} {slow} {none}");
}

/// What a jam says of itself hangs together.
#[test]
fn a_jam_tells_all() {
    let scene = scene(&[("tolerances.homing_error_sigma_deg", json!(1.0))]);
    let machine = Machine::of(&scene);
    let mut seen = 0;
    for trial in 0..40 {
        let run = runs(&machine, &long(), trial);
        let Some(jam) = run.jam() else { continue };
        seen += 1;
        assert!(!jam.met.late_face.same_axis(jam.met.blocked_face));
        assert!(jam.time_s <= run.total_s && jam.beat < run.beats.len());
        assert!(jam.noticed_s.is_none_or(|at| at >= jam.time_s));
        let turned = run.beats[jam.beat].turns.iter().any(|t| t.turn.face == jam.met.blocked_face);
        assert!(turned, "{jam}");
        assert!([jam.met.late_face, jam.met.blocked_face].contains(&jam.strained_face));
        let axis = run.axes[jam.strained_face.index()];
        assert!(jam.peak_torque_n_m <= axis.peak_torque_n_m + 1e-12);
        let factor = axis.ultimate_torque_n_m / jam.peak_torque_n_m;
        assert!((jam.safety_factor_ratio - factor).abs() < 1e-9);
        assert!(jam.blame.off_deg > 0.0, "{:?}", jam.blame);
    }
    assert!(seen > 15, "{seen}");
}

/// A tight cube (play 0.1 mm, lift 0.2 mm, radius 1 mm) is jammed by 1.15° at a hold torque
/// of 0.2 N·m, a loose one (0.4, 1, 3) by 8.9° (tests/reference/jam_angles.py).
#[test]
fn presets_of_tension() {
    let jam = |tension: &str, friction: f64| {
        let scene = scene(&[("cube.tension", json!(tension))]);
        Interlock::of(&scene.file().cube).jam_deg(&Torques {
            late_friction_n_m: friction,
            late_hold_n_m: 0.2,
            turning_friction_n_m: friction,
            turning_limit_n_m: 0.479,
        })
    };
    assert!((jam("Tight", 0.156) - 1.1454).abs() < 1e-3);
    assert!((jam("Loose", 0.04) - 8.9238).abs() < 1e-3);
}

/// Two opposite faces in one beat never meet.
#[test]
fn opposite_faces_do_not_meet() {
    let scene = exact(&[]);
    let beat = |turns: &str| Beat { turns: notation::parse(turns).unwrap() };
    let plan = Plan { beats: vec![beat("U D'"), beat("R L2"), beat("F B")] };
    let run = run(&scene, &plan, 0);
    assert!(run.jam().is_none() && run.pushed.is_empty());
}
