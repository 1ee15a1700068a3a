//! What fits make of moves that decide nothing, and what a run's log must follow.

use dryturn_cube::notation;
use dryturn_handoff::{AxisLog, Plan, RunLog};
use dryturn_scene::Scene;
use dryturn_units::{degrees, maths};

use super::*;
use crate::motor::regression::regression;

fn drawn() -> Scene {
    Scene::parse(include_str!("../../../../../scenes/workbench.ron"), "workbench.ron").unwrap()
}

/// Quarter turns of 40 ms along half a cosine, at 2 kHz, with the current that inertia and
/// friction take, and the drawn viscous friction and detents.
fn even_moves(count: usize, inertia: f64, coulomb: f64) -> AxisLog {
    fine_moves(count, inertia, coulomb, 1)
}

/// The same with so many times as many samples.
fn fine_moves(count: usize, inertia: f64, coulomb: f64, finer: usize) -> AxisLog {
    let step_s = 5e-4 / finer as f64;
    let scene = drawn();
    let drive = &scene.file().drive;
    let constant = constant_v_s(drive);
    let mut log = AxisLog { current_a: Some(Vec::new()), ..AxisLog::default() };
    let (rest, moving) = (40 * finer, 80 * finer);
    for k in 0..count * (rest + moving) + rest {
        let (turn, within) = (k / (rest + moving), k % (rest + moving));
        let share = (within as f64 - rest as f64).max(0.0) / moving as f64;
        let phase = core::f64::consts::PI * share;
        let quarter = core::f64::consts::FRAC_PI_4;
        let angle = quarter * (2.0 * turn as f64 + 1.0 - maths::cos(phase));
        let per_s = core::f64::consts::PI / (moving as f64 * step_s);
        let rate = quarter * per_s * per_s * maths::cos(phase);
        let speed = quarter * per_s * maths::sin(phase);
        let rubbing = coulomb + drive.viscous_friction_n_m_s * speed;
        let pull = drive.detent_torque_n_m * maths::sin(4.0 * angle);
        let torque = if share > 0.0 { inertia * rate + rubbing + pull } else { 0.0 };
        log.time_s.push(k as f64 * step_s);
        log.angle_deg.push(degrees(angle));
        log.current_a.iter_mut().for_each(|list| list.push(torque / constant));
    }
    log
}

/// Moves without noise, all alike: inertia and friction to a percent, no viscous friction,
/// no limits.
#[test]
fn moves_all_alike() {
    let scene = drawn();
    let log = axis_log(&even_moves(6, 9e-5, 0.12).csv(), &scene.file().drive).unwrap();
    let found = identify(&[log], scene.file(), Some(2)).unwrap();
    assert_eq!((found.moves.len(), found.held_out.number), (6, 2));
    let inertia = found.value(Parameter::Inertia).unwrap();
    assert!((inertia / 9e-5 - 1.0).abs() < 0.02, "{inertia}");
    let [speed, friction] = found.friction_at;
    assert!((friction / 0.12 - 1.0).abs() < 0.02, "{friction} at {speed}");
    assert!(found.estimate(Parameter::Viscous).unwrap().open.is_some());
    assert!(found.limits.iter().all(|limit| limit.reached.is_none()));
    let names: Vec<&str> = found.fields.iter().map(|field| field.name).collect();
    assert!(names.starts_with(&["rotor_inertia_kg_m2", "friction_torque_n_m"]), "{names:?}");
    let block = written(&found, &["a note".to_owned()]);
    assert!(block.starts_with("// a note\n") && block.ends_with("),\n"), "{block}");
}

/// Columns that are the same leave it open; a column of nothing too.
#[test]
fn columns_that_decide_nothing() {
    let column: Vec<f64> = (0..20).map(f64::from).collect();
    let target = vec![1.0; 20];
    let same = [column.clone(), column.iter().map(|v| 2.0 * v).collect()];
    let open = regression(&same, &target, &[20], 2);
    assert!(open.is_none_or(|fit| fit.condition_ratio > 1e6));
    assert!(regression(&[vec![0.0; 20]], &target, &[20], 2).is_none());
    assert!(regression(&[column], &target[..], &[10, 10], 2).is_some());
}

/// A run's log is held against the plan: order, direction, both turns of a beat in any order.
#[test]
fn runs_follow_their_plan() {
    let angle = |k: usize, from: usize| (k.saturating_sub(from) as f64 * 3.0).min(90.0);
    let row = |k: usize| [angle(k, 10), 0.0, -angle(k, 60), angle(k, 5), 0.0, 0.0];
    let log = RunLog {
        time_s: (0..120).map(|k| k as f64 * 1e-3).collect(),
        angles_deg: (0..120).map(row).collect(),
        currents_a: None,
    };
    let read = |turns: &str| {
        let plan = Plan::of_turns(&notation::parse(turns).unwrap());
        run_log(&log.csv(), &plan).map(|log| log.time_s.len())
    };
    assert_eq!(read("U D F'"), Ok(120));
    assert_eq!(read("D U F' R"), Ok(120));
    // F is 60° on 20 ms after it sets off: sample 80, line 82.
    let said = |turns| read(turns).unwrap_err().to_string();
    assert!(said("U D F").starts_with("line 82, column angle_F_deg: F makes a quarter turn anti"));
    assert!(said("U F' D").contains("column angle_D_deg"), "{}", said("U F' D"));
    assert!(said("U D").contains("the plan must have ended"), "{}", said("U D"));
}

/// The longest log that is read is fitted at once, though residuals hang together over
/// hundreds of its samples.
#[test]
fn a_long_log_is_fitted() {
    let scene = drawn();
    let log = fine_moves(400, 9e-5, 0.12, 10);
    assert!((400_000..MOST_SAMPLES).contains(&log.len()), "{}", log.len());
    let found = identify(&[log], scene.file(), None).unwrap();
    let inertia = found.value(Parameter::Inertia).unwrap();
    assert!((inertia / 9e-5 - 1.0).abs() < 0.02, "{inertia}");
}

/// A motor that gains work is one whose current, or angle, has the other sign; one log by
/// itself is named.
#[test]
fn a_reversed_current_is_refused() {
    let scene = drawn();
    let good = even_moves(6, 9e-5, 0.12);
    let mut other = good.clone();
    other.current_a.iter_mut().flatten().for_each(|current| *current = -*current);
    let refused = identify(&[good, other], scene.file(), None).unwrap_err();
    assert!(matches!(refused, IdentifyError::Reversed { log: Some(2), .. }), "{refused}");
    let said = refused.to_string();
    assert!(said.contains("negative") && said.contains("probably reversed"), "{said}");
}

/// Where a computed motion ends is bounded, by degrees and by share.
#[test]
fn a_far_end_is_not_accepted() {
    let held = |end_off_deg: f64, way_deg: f64| HeldOut {
        number: 1,
        torque_off_share: 0.1,
        angle_off_share: 0.1,
        end_off_deg,
        way_deg,
        slow: false,
        torque: Vec::new(),
        angle: Vec::new(),
    };
    assert!(held(-26.0, 90.0).accepted() && held(4.0, 11.0).accepted());
    assert!(!held(-28.0, 90.0).accepted() && !held(6.0, 11.0).accepted());
}
