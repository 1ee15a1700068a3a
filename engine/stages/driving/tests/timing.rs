//! When the next face begins: by prediction, beside the other policies; and what makes a
//! stopped face stand right.

mod help;

use dryturn_cube::CubeState;
use dryturn_driving::{Detail, Lead, Machine, Timing};
use dryturn_handoff::{BeatRun, End, Run};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use help::{Changes, exact, jams, long, plan, run, scene};
use serde_json::json;

fn predicted(margin_deg: f64, more: Changes<'_>) -> Vec<(&'static str, serde_json::Value)> {
    let mut changes = vec![
        ("handover.policy", json!("Predict")),
        ("handover.clearance_margin_deg", json!(margin_deg)),
    ];
    // The paths of tests are literals.
    changes.extend(more.iter().map(|(path, value)| {
        let path: &'static str = String::leak((*path).to_owned());
        (path, value.clone())
    }));
    changes
}

fn traced(scene: &Scene) -> Run {
    let trial = Seed::new(1).trial(0);
    Machine::of(scene).run(&CubeState::SOLVED, &long(), trial, Detail::Trace)
}

fn leads(margin_deg: f64) -> [Lead; 8] {
    *Machine::of(&scene(&predicted(margin_deg, &[]))).leads()
}

/// On a rig without errors nothing touches, though faces overlap.
#[test]
fn predicted_starts_are_clear() {
    let run = traced(&exact(&predicted(0.5, &[])));
    assert_eq!(run.end, End::Completed);
    let overlaps = run.beats.windows(2).filter(|w| w[1].start_s() < w[0].stop_s()).count();
    assert!(overlaps > 15, "{overlaps} of {} beats overlap", run.beats.len());
    let least = run.trace.gaps_mm.iter().flatten().copied().fold(f64::INFINITY, f64::min);
    assert!(least >= 0.0, "{least}");
    assert_eq!(run.energy.jam_j, 0.0);
}

/// Who leaves less margin begins earlier, in each direction; turning with the late face's
/// error is met later than turning against it only far from its stop.
#[test]
fn less_margin_begins_earlier() {
    let [wide, narrow, pushing] = [0.6, 0.0, -2.0].map(leads);
    for ((wide, narrow), pushing) in wide.iter().zip(&narrow).zip(&pushing) {
        assert!(wide.lead_s <= narrow.lead_s && narrow.lead_s < pushing.lead_s, "{narrow:?}");
        assert!(narrow.lead_s > 0.0 && narrow.to_go_deg > 0.0);
    }
    // Against a face that is so far off nobody may turn; with it for a while.
    for lead in leads(5.0) {
        assert!(!lead.same_sense || lead.lead_s < 2.5e-3, "{lead:?}");
    }
}

/// The host commands as much earlier as commands take.
#[test]
fn a_known_latency_costs_nothing() {
    let total = |policy: &str, latency: f64| {
        let changes =
            [("handover.policy", json!(policy)), ("link.command_latency_ms", json!(latency))];
        Timing::of(&scene(&changes)).total_s(&long()).unwrap()
    };
    let cost = |policy: &str| total(policy, 4.0) - total(policy, 0.5);
    // The first command alone.
    assert!((0.003..0.006).contains(&cost("Predict")), "{}", cost("Predict"));
    assert!(cost("Settle") > 0.06, "{}", cost("Settle"));
}

#[test]
fn prediction_is_quicker_than_waiting_and_does_not_jam() {
    let scene = scene(&predicted(0.3, &[]));
    let waiting = run(&help::scene(&[]), &long(), 0).total_s;
    let predicted = run(&scene, &long(), 0).total_s;
    assert!(predicted < 0.9 * waiting, "{predicted} {waiting}");
    assert_eq!(jams(&scene, &long(), 100), 0);
}

/// How far a face may be pushed aside has an end.
#[test]
fn too_little_margin_jams() {
    let jams = [-1.0, -8.0, -20.0].map(|margin| jams(&scene(&predicted(margin, &[])), &long(), 60));
    assert!(jams[0] <= 2 && jams[2] > 40 && jams.is_sorted(), "{jams:?}");
}

/// A late face that the encoder shows is waited for.
#[test]
fn late_faces_are_waited_for() {
    let weak = [
        ("controller.position_gain_per_s", json!(60.0)),
        ("controller.speed_gain_per_s", json!(300.0)),
    ];
    let weak = exact(&predicted(
        0.3,
        &[&weak[..], &[("controller.friction_feed_forward_ratio", json!(0.3))]].concat(),
    ));
    let (run, strong) = (traced(&weak), traced(&exact(&predicted(0.3, &[]))));
    let least = run.trace.gaps_mm.iter().flatten().copied().fold(f64::INFINITY, f64::min);
    assert_eq!(run.end, End::Completed, "{least}");
    // Each beat begins later than with strong gains, and nobody is pushed far.
    let start_s = |run: &Run| run.beats.iter().map(BeatRun::start_s).collect::<Vec<_>>();
    let (weak_s, strong_s) = (start_s(&run), start_s(&strong));
    let later_s: Vec<f64> =
        weak_s.iter().zip(&strong_s).map(|(weak, strong)| weak - strong).collect();
    assert!(later_s[1..].iter().all(|later| *later > 1e-4), "{later_s:?}");
    assert!(later_s[20] > 1.5e-3 && least > -0.06, "{later_s:?} {least}");
}

/// A layer that friction slows winds its shaft up by less than friction could, for its own
/// momentum pushes: with a third of the static wind-up made up for, faces stand nearer to their
/// stops than with none, and with all of it they stand beyond.
#[test]
fn compensation_takes_the_wind_up_out() {
    let off = |ratio: f64| {
        let scene = exact(&[
            ("controller.wind_up_compensation_ratio", json!(ratio)),
            ("drive.detent_torque_n_m", json!(0.0)),
        ]);
        let run = run(&scene, &plan("R U' F D' L B2"), 0);
        assert_eq!(run.end, End::Completed);
        run.rest_deg.iter().map(|deg| deg.abs()).sum::<f64>() / 6.0
    };
    let [none, third, all] = [0.0, 0.35, 1.0].map(off);
    assert!(third < 0.6 * none && all > none, "{none} {third} {all}");
}
