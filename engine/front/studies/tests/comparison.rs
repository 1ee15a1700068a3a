//! Two plans on two timings, search budgets, and what is kept with a scene.

use std::ops::ControlFlow;
use std::sync::Arc;

use dryturn_rehearsal::{Rehearser, least_time};
use dryturn_scene::Scene;
use dryturn_studies::{Ended, RigComparison, SearchBudgets};
use dryturn_units::noise::Seed;
use rayon::ThreadPoolBuilder;
use serde_json::json;

fn workbench(changes: &[(&str, serde_json::Value)]) -> Arc<Scene> {
    let text = include_str!("../../../../scenes/workbench.ron");
    let scene = Scene::parse(text, "workbench.ron").unwrap();
    Arc::new(
        changes.iter().fold(scene, |scene, (path, value)| scene.with(path, value.clone()).unwrap()),
    )
}

fn released() -> Arc<Scene> {
    let angle = ("handover.release_angle_deg", json!(10.0));
    workbench(&[("handover.policy", json!("Release")), angle])
}

fn rehearser() -> Rehearser {
    Rehearser::new(Seed::new(3))
}

fn compare(safe: &Arc<Scene>, tuned: &Arc<Scene>, cubes: usize) -> RigComparison {
    RigComparison::of(&rehearser(), safe, tuned, cubes, &|_| ControlFlow::Continue(())).unwrap()
}

fn saved(comparison: &RigComparison, what: &str) -> (f64, (f64, f64)) {
    comparison.savings.iter().find(|saving| saving.what == what).unwrap().saved_s
}

/// The shares of plan and timing are the whole; so is either way from the first to the last.
#[test]
fn savings_add_up() {
    let comparison = compare(&workbench(&[]), &released(), 6);
    let of = |what| saved(&comparison, what).0;
    let whole = of("both together");
    for sum in [
        of("the plan's share") + of("the timing's share"),
        of("the plan, on safe timing") + of("the timing, with the plan for the rig"),
        of("the timing, with the textbook plan") + of("the plan, on tuned timing"),
    ] {
        assert!((sum - whole).abs() < 1e-9, "{sum} {whole}");
    }
    let total: f64 = comparison.parts(0).iter().map(|(_, seconds)| seconds).sum();
    assert!((total - comparison.mean_s(0)).abs() < 1e-9);
    assert!((comparison.mean_s(0) - comparison.mean_s(3) - whole).abs() < 1e-9);
    for saving in &comparison.savings {
        let (mean, (low, high)) = saving.saved_s;
        assert!(low <= mean && mean <= high, "{saving:?}");
    }
}

/// The same rig twice: the same plans meet the same luck, so timing saves nothing, in no
/// resample.
#[test]
fn the_same_rig_saves_nothing() {
    let scene = workbench(&[]);
    let comparison = compare(&scene, &scene, 5);
    for what in ["the timing's share", "the timing, with the textbook plan"] {
        let (mean, (low, high)) = saved(&comparison, what);
        assert!([mean, low, high].iter().all(|saved| saved.abs() < 1e-12), "{what}");
    }
    for cube in &comparison.cubes {
        assert_eq!(cube.ways[0], cube.ways[2]);
        assert_eq!(cube.ways[1], cube.ways[3]);
    }
}

/// Search costs what was spent, and the textbook's costs something too.
#[test]
fn searches_cost_their_nodes() {
    let rehearser = rehearser();
    let scene = workbench(&[]);
    let comparison = compare(&scene, &scene, 2);
    let state = rehearser.random_cube(1);
    let (plan, nodes) = rehearser.planner().textbook_counted(&state);
    assert_eq!(plan, rehearser.planner().textbook(&state));
    let wanted = nodes as f64 / scene.file().host.search_nodes_per_ms * 1e-3;
    assert!(nodes > 0);
    assert_eq!(comparison.cubes[1].ways[0].1.search_s, wanted);
}

/// A rig that stops every run: counted, and nothing is compared.
#[test]
fn failures_are_kept_apart() {
    let stopping = workbench(&[("faults.emergency_stop_at_ms", json!(50.0))]);
    let comparison = compare(&workbench(&[]), &stopping, 3);
    assert_eq!(comparison.compared().count(), 0);
    assert!(comparison.savings.is_empty() && comparison.median_s(0).is_none());
    assert_eq!(comparison.count(0, Ended::Completed), 3);
    assert_eq!(comparison.count(3, Ended::Stopped), 3);
}

fn budgets(threads: usize) -> SearchBudgets {
    let pool = ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let all = [50_000, 1000, 1000];
    pool.install(|| {
        SearchBudgets::of(&rehearser(), &workbench(&[]), &all, 4, &|_| ControlFlow::Continue(()))
    })
    .unwrap()
}

#[test]
fn the_best_budget_takes_least() {
    let found = budgets(2);
    assert_eq!(found.points.iter().map(|point| point.budget).collect::<Vec<_>>(), [1000, 50_000]);
    let best = &found.points[found.best];
    assert_eq!(best.over_best_s, (0.0, (0.0, 0.0)));
    for point in &found.points {
        assert!((point.search_s + point.execution_s - point.total_s.0).abs() < 1e-9);
        assert!(point.total_s.0 >= best.total_s.0 && point.over_best_s.0 >= 0.0);
    }
    assert!(found.points[1].execution_s <= found.points[0].execution_s);
    assert!(found.points[1].nodes > found.points[0].nodes);
    assert_eq!(found.points, budgets(1).points);
    // Two budgets: whoever is told of the first plan breaks off before the second.
    let stop = SearchBudgets::of(&rehearser(), &workbench(&[]), &[1000, 2000], 2, &|_| {
        ControlFlow::Break(())
    });
    assert!(stop.is_none());
}

#[test]
fn what_is_kept_is_what_is_made() {
    let rehearser = rehearser();
    let (safe, tuned) = (workbench(&[]), released());
    for scene in [&safe, &tuned, &safe] {
        assert_eq!(rehearser.least_time(scene), least_time(scene));
    }
    assert_eq!(rehearser.transitions(&safe), rehearser.transitions(&safe));
    assert_ne!(rehearser.transitions(&safe), rehearser.transitions(&tuned));
}
