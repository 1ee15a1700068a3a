//! No run is faster than its lower bound, whatever the plan and the settings.

mod help;

use dryturn_cube::{ALL_TURNS, Turn};
use dryturn_handoff::{End, Plan};
use help::{run, scene};
use proptest::prelude::*;
use serde_json::json;

fn turns() -> impl Strategy<Value = Vec<Turn>> {
    prop::collection::vec(prop::sample::select(ALL_TURNS.to_vec()), 1..12)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 160, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_run_beats_its_bound(
        turns in turns(),
        preset in prop::sample::select(vec![
            "TorqueFollowsBus", "WindingLine", "SpeedLimited", "HighTorque", "ProfileLimited",
        ]),
        voltage in 24.0..60.0f64,
        tension in prop::sample::select(vec!["Tight", "Loose"]),
        release in 0.5..40.0f64,
        share in 0.7..1.0f64,
        latency in 0.0..2.0f64,
        window in 0.2..2.0f64,
        margin in -12.0..1.0f64,
        policy in prop::sample::select(vec!["Settle", "Release", "Predict"]),
        trial in 0u64..50,
    ) {
        let scene = scene(&[
            ("drive.preset", json!(preset)),
            ("drive.bus_voltage_v", json!(voltage)),
            ("drive.planned_torque_share", json!(share)),
            ("drive.overhead_ms", json!(0.0)),
            ("cube.tension", json!(tension)),
            ("handover.policy", json!(policy)),
            ("handover.release_angle_deg", json!(release)),
            ("handover.clearance_margin_deg", json!(margin)),
            ("handover.settle_window_deg", json!(window)),
            ("link.command_latency_ms", json!(latency)),
            ("detection.following_error_deg", json!(60.0)),
        ]);
        let run = run(&scene, &Plan::of_turns(&turns), trial);
        if run.end == End::Completed {
            prop_assert!(run.total_s >= run.bound_s, "{} < {}", run.total_s, run.bound_s);
        }
        prop_assert!(run.bound_s >= 0.0 && run.bound_s.is_finite());
    }
}

/// The bound is worth something: a run with little waiting is within twice of it.
#[test]
fn the_bound_is_near() {
    let scene = scene(&[("drive.overhead_ms", json!(0.0))]);
    let run = run(&scene, &help::long(), 0);
    assert!(run.bound_s > 0.45 * run.total_s, "{} of {}", run.bound_s, run.total_s);
}
