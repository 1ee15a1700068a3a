//! What beats cost after one another predicts what the simulation makes of whole plans.

mod help;

use dryturn_cube::{ALL_TURNS, Turn};
use dryturn_driving::{STUCK_US, Timing};
use dryturn_handoff::Plan;
use dryturn_units::noise::Seed;
use help::exact;
use serde_json::json;

/// Twenty-five turns that no two neighbours share a face in.
fn random_plan(trial: u64) -> Plan {
    let mut noise = Seed::new(8).stream("transitions test", trial, 0);
    let mut turns: Vec<Turn> = Vec::new();
    while turns.len() < 25 {
        let turn = ALL_TURNS[(noise.bits() % 18) as usize];
        let again = turns.iter().rev().take(2).any(|last| last.face == turn.face);
        if !again {
            turns.push(turn);
        }
    }
    Plan::of_turns(&turns)
}

#[test]
fn whole_plans_are_predicted() {
    for (policy, angle_deg) in
        [("Settle", 2.0), ("Release", 2.0), ("Release", 10.0), ("Predict", 2.0)]
    {
        let angle = ("handover.release_angle_deg", json!(angle_deg));
        let timing = Timing::of(&exact(&[("handover.policy", json!(policy)), angle]));
        let costs = timing.transitions();
        let mut pairs = 0;
        for trial in 0..20 {
            let plan = random_plan(trial);
            pairs += plan.beats.iter().filter(|beat| beat.turns.len() > 1).count();
            let wanted_s = timing.total_s(&plan).unwrap();
            let off = f64::from(costs.total_us(&plan)) * 1e-6 / wanted_s - 1.0;
            assert!(off.abs() < 1.0 / 300.0, "{policy}, {angle_deg}°, trial {trial}: {off}");
        }
        assert!(pairs > 10);
    }
}

/// The rows agree with those that `costs` takes, and are the same again.
#[test]
fn rows_agree() {
    let timing = Timing::of(&exact(&[]));
    let (costs, rows) = (timing.costs().unwrap(), timing.transitions());
    let ms = |us: u32| f64::from(us) * 1e-3;
    assert!((ms(rows.between_us[0][0][1]) - costs.quarter_s * 1e3).abs() < 0.1);
    assert!((ms(rows.between_us[1][1][1]) - costs.half_s * 1e3).abs() < 0.1);
    assert_eq!(rows, timing.transitions());
}

/// Where faces are released much too early rows jam: no plan shall want such a row.
#[test]
fn what_jams_is_dear() {
    let changes =
        [("handover.policy", json!("Release")), ("handover.release_angle_deg", json!(45.0))];
    let timing = Timing::of(&exact(&changes));
    let rows = timing.transitions();
    assert_eq!(
        timing.costs().is_none(),
        rows.between_us.as_flattened().as_flattened().contains(&STUCK_US)
    );
    assert!(rows.between_us[0][0][1] == STUCK_US || rows.between_us[0][0][0] == STUCK_US);
}
