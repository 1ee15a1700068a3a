//! Verbs about planning for a tuned rig: what beats cost, how long to search, what it saves.

use std::sync::Arc;

use dryturn_record::Exhibit;
use dryturn_record::ledger::{BudgetsLine, CompareLine, Line};
use dryturn_studies::{BUDGETS, RigComparison, SearchBudgets, Transitions};
use rhai::{Array, Dynamic, Engine, NativeCallContext};
use serde_json::json;

use crate::handles::{BudgetsValue, ComparisonValue, SceneValue, int};
use crate::optics_verbs::{from_json, shown};
use crate::session::{Fallible, Session, fault};
use crate::verbs::{MAX_NODES, within};

/// Most cubes of one comparison.
const MAX_CUBES: i64 = 10_000;
/// Most budgets that are compared.
const MAX_BUDGETS: usize = 100;

/// What beats cost after one another, ms.
fn transitions(costs: &Transitions) -> Dynamic {
    let ms = |us: u32| f64::from(us) * 1e-3;
    let kinds = ["quarter", "half"];
    let mut map = json!({ "first_ms": ms(costs.first_us) });
    for (from, first) in kinds.iter().enumerate() {
        for (to, second) in kinds.iter().enumerate() {
            let [opposite, same] = costs.between_us[from][to];
            map[format!("{first}_{second}_same_ms")] = json!(ms(same));
            map[format!("{first}_{second}_opposite_ms")] = json!(ms(opposite));
        }
        map[format!("{first}_pair_longer_ms")] = json!(f64::from(costs.pair_us[from]) * 1e-3);
        map[format!("{first}_last_ms")] = json!(ms(costs.last_us[from]));
    }
    from_json(&map)
}

fn nodes_of(items: Array) -> Fallible<Vec<u64>> {
    if items.is_empty() || items.len() > MAX_BUDGETS {
        return fault(format!("a list of {} budgets: must be 1 to {MAX_BUDGETS}", items.len()));
    }
    let nodes = |item: Dynamic| match item.as_int() {
        Ok(nodes) => within("the node budget", nodes, 1..=MAX_NODES),
        Err(_) => fault("a node budget is a whole number"),
    };
    items.into_iter().map(nodes).collect()
}

impl Session {
    fn search_budgets(
        &self,
        scene: &SceneValue,
        cubes: i64,
        budgets: &[u64],
    ) -> Fallible<BudgetsValue> {
        let cubes = within("the number of cubes", cubes, 1..=MAX_CUBES)? as usize;
        let progress = self.watched("search budgets", cubes * budgets.len());
        let Some(found) = SearchBudgets::of(&self.rehearser, &scene.0, budgets, cubes, &progress)
        else {
            return fault("stopped");
        };
        let found = self.made(found);
        self.log(Line::SearchBudgets(BudgetsLine::of(&found)));
        self.show(Exhibit::Budgets(found.clone()));
        Ok(BudgetsValue(found))
    }

    fn compare_rigs(
        &self,
        safe: &SceneValue,
        tuned: &SceneValue,
        cubes: i64,
    ) -> Fallible<ComparisonValue> {
        let cubes = within("the number of cubes", cubes, 1..=MAX_CUBES)? as usize;
        let progress = self.watched("comparison of rigs", cubes);
        let Some(found) = RigComparison::of(&self.rehearser, &safe.0, &tuned.0, cubes, &progress)
        else {
            return fault("stopped");
        };
        let found = self.made(found);
        self.log(Line::CompareRigs(CompareLine::of(&found)));
        self.show(Exhibit::Comparison(found.clone()));
        Ok(ComparisonValue(found))
    }
}

/// The row of what a comparison saves by this name.
fn saving(comparison: &RigComparison, what: &str) -> Fallible<Dynamic> {
    let line = CompareLine::of(comparison);
    if let Some(row) = line.savings.iter().find(|row| row.what == what) {
        return Ok(shown(row));
    }
    let names: Vec<&str> = line.savings.iter().map(|row| row.what.as_str()).collect();
    fault(format!("{what:?} is not among {}", names.join("; ")))
}

/// Registers the verbs.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn("transitions", move |context: NativeCallContext, scene: SceneValue| {
        s.begin(&context, None);
        transitions(&s.rehearser.transitions(&scene.0))
    });
    let s = session.clone();
    engine.register_fn(
        "search_budgets",
        move |context: NativeCallContext, scene: SceneValue, cubes: i64| {
            s.begin(&context, None);
            s.search_budgets(&scene, cubes, &BUDGETS)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "search_budgets",
        move |context: NativeCallContext, scene: SceneValue, cubes: i64, budgets: Array| {
            s.begin(&context, None);
            s.search_budgets(&scene, cubes, &nodes_of(budgets)?)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "compare_rigs",
        move |context: NativeCallContext, safe: SceneValue, tuned: SceneValue, cubes: i64| {
            s.begin(&context, None);
            s.compare_rigs(&safe, &tuned, cubes)
        },
    );
    engine.register_get("best_nodes", |b: &mut BudgetsValue| b.0.best_nodes() as i64);
    engine.register_get("points", |b: &mut BudgetsValue| shown(&BudgetsLine::of(&b.0).points));
    engine.register_get("summary", |b: &mut BudgetsValue| BudgetsLine::of(&b.0).summary());
    engine.register_get("cubes", |c: &mut ComparisonValue| int(c.0.cubes.len()));
    engine.register_get("compared", |c: &mut ComparisonValue| int(c.0.compared().count()));
    engine.register_get("ways", |c: &mut ComparisonValue| shown(&CompareLine::of(&c.0).ways));
    engine.register_fn("saving", |c: ComparisonValue, what: &str| saving(&c.0, what));
    engine.register_get("summary", |c: &mut ComparisonValue| CompareLine::of(&c.0).summary());
}
