//! The lines of the ledger about search budgets and compared rigs.

use serde_json::{Map, Value as Json, json};

use super::digest;
use crate::comparison::{Ended, RigComparison, Saving, WAYS};
use crate::search_budgets::{BudgetPoint, SearchBudgets};

/// A mean in seconds with its interval, as ms.
fn mean_ms((mean_s, (low_s, high_s)): (f64, (f64, f64))) -> Json {
    json!({ "ms": mean_s * 1e3, "low_ms": low_s * 1e3, "high_ms": high_s * 1e3 })
}

/// Budgets compared on the same cubes.
#[must_use]
pub fn search_budgets(budgets: &SearchBudgets) -> Json {
    let point = |point: &BudgetPoint| {
        json!({
            "budget": point.budget, "nodes": point.nodes, "search_ms": point.search_s * 1e3,
            "execution_ms": point.execution_s * 1e3, "total": mean_ms(point.total_s),
            "over_best": mean_ms(point.over_best_s),
        })
    };
    json!({
        "stage": "search_budgets", "scene": budgets.scene.file().name,
        "scene_sha256": digest(budgets.scene.identity().as_bytes()), "cubes": budgets.cubes,
        "best_nodes": budgets.best_nodes(),
        "points": budgets.points.iter().map(point).collect::<Vec<_>>(),
    })
}

fn saving(saving: &Saving) -> Json {
    let mut line = mean_ms(saving.saved_s);
    let (percent, (low, high)) = saving.percent;
    line["what"] = json!(saving.what);
    line["percent"] = json!(percent);
    line["low_percent"] = json!(low);
    line["high_percent"] = json!(high);
    line
}

/// Two plans on two timings.
#[must_use]
pub fn compare_rigs(comparison: &RigComparison) -> Json {
    let compared = comparison.compared().count();
    let way = |way: usize| {
        let parts = comparison.parts(way);
        let part = |(name, mean_s): (&str, f64)| (name.replace('-', "_"), json!(mean_s * 1e3));
        let parts: Map<String, Json> = parts.into_iter().map(part).collect();
        json!({
            "way": WAYS[way], "jammed": comparison.count(way, Ended::Jammed),
            "stopped": comparison.count(way, Ended::Stopped),
            "mean_ms": (compared > 0).then(|| comparison.mean_s(way) * 1e3),
            "median_ms": comparison.median_s(way).map(|s| s * 1e3),
            "parts_ms": parts,
        })
    };
    let sha256 = |scene: &dryturn_scene::Scene| digest(scene.identity().as_bytes());
    json!({
        "stage": "compare_rigs", "safe": comparison.safe.file().name,
        "safe_sha256": sha256(&comparison.safe), "tuned": comparison.tuned.file().name,
        "tuned_sha256": sha256(&comparison.tuned), "cubes": comparison.cubes.len(),
        "compared": compared, "ways": (0..WAYS.len()).map(way).collect::<Vec<_>>(),
        "savings": comparison.savings.iter().map(saving).collect::<Vec<_>>(),
    })
}
