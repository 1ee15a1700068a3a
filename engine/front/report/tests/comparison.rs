//! Search budgets and compared rigs on the page.

use dryturn_studies::RigComparison;
use dryturn_studies::SearchBudgets;
use std::ops::ControlFlow;
use std::sync::Arc;

use dryturn_record::{Exhibit, Record};
use dryturn_rehearsal::Rehearser;
use dryturn_report::page;
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use serde_json::json;

fn scene() -> Arc<Scene> {
    let text = include_str!("../../../../scenes/workbench.ron");
    Arc::new(Scene::parse(text, "workbench.ron").unwrap())
}

/// The page less its style.
fn shown(exhibit: Exhibit) -> String {
    let page = page("t.rhai", 1, &Record { exhibits: vec![exhibit], ..Record::default() });
    let body = page.split("</style>").nth(1).unwrap().to_owned();
    assert!(!body.contains("NaN") && !body.contains("inf\""), "{body}");
    body
}

#[test]
fn budgets_have_a_plot_and_a_table() {
    let rehearser = Rehearser::new(Seed::new(1));
    let found = SearchBudgets::of(&rehearser, &scene(), &[1000, 20_000, 40_000], 3, &|_| {
        ControlFlow::Continue(())
    })
    .unwrap();
    let page = shown(Exhibit::Budgets(Arc::new(found)));
    assert_eq!(page.matches("class=\"spot total\"").count(), 3);
    assert_eq!(page.matches("<tr>").count(), 4);
    assert!(page.contains("How long to search a plan for") && page.contains(">40000<"));
}

#[test]
fn rigs_have_bars_and_savings() {
    let rehearser = Rehearser::new(Seed::new(1));
    let compare = |tuned: Scene| {
        let go_on = |_| ControlFlow::Continue(());
        let found = RigComparison::of(&rehearser, &scene(), &Arc::new(tuned), 3, &go_on).unwrap();
        shown(Exhibit::Comparison(Arc::new(found)))
    };
    let page = compare(scene().with("handover.policy", json!("Release")).unwrap());
    // Six parts in each of four bars, and once in the legend.
    assert_eq!(page.matches("<rect class=\"part5\"").count(), 5);
    for text in [
        "3 of 3 random cubes",
        "A: textbook plan, safe timing",
        "both together",
        "How the savings are spread",
    ] {
        assert!(page.contains(text), "no {text:?}");
    }
    let page = compare(scene().with("faults.emergency_stop_at_ms", json!(30.0)).unwrap());
    assert!(page.contains("No cube was completed all four ways."));
}
