//! Verbs about planning for a tuned rig: what beats cost, how long to search, what it saves.

use std::sync::Arc;

use dryturn_rehearsal::{BUDGETS, Exhibit, RigComparison, SearchBudgets, Transitions, ledger};
use rhai::{Array, Dynamic, Engine, Map, NativeCallContext};
use serde_json::{Value as Json, json};

use crate::handles::{BudgetsValue, ComparisonValue, SceneValue, int};
use crate::optics_verbs::from_json;
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

/// One decimal of a figure in the ledger's line.
fn figure(of: &Json) -> String {
    of.as_f64().map_or_else(|| "–".to_owned(), |ms| format!("{ms:.1}"))
}

fn summary_of_budgets(budgets: &SearchBudgets) -> String {
    let line = ledger::search_budgets(budgets);
    let rows = line["points"].as_array().into_iter().flatten().map(|point| {
        format!(
            "{} nodes: search {} ms + execution {} ms = {} ms, over the best {} ms ({} to {})",
            point["budget"],
            figure(&point["search_ms"]),
            figure(&point["execution_ms"]),
            figure(&point["total"]["ms"]),
            figure(&point["over_best"]["ms"]),
            figure(&point["over_best"]["low_ms"]),
            figure(&point["over_best"]["high_ms"]),
        )
    });
    let best = format!("best: {} nodes, of {} cubes", budgets.best_nodes(), budgets.cubes);
    rows.chain([best]).collect::<Vec<_>>().join("\n")
}

fn summary_of_rigs(comparison: &RigComparison) -> String {
    let line = ledger::compare_rigs(comparison);
    let ways = line["ways"].as_array().into_iter().flatten().map(|way| {
        format!(
            "{}: mean {} ms, median {} ms; jammed {}, stopped {}",
            way["way"].as_str().unwrap_or_default(),
            figure(&way["mean_ms"]),
            figure(&way["median_ms"]),
            way["jammed"],
            way["stopped"]
        )
    });
    let savings = line["savings"].as_array().into_iter().flatten().map(|saving| {
        format!(
            "{}: {} ms saved ({} to {}), {} % ({} to {})",
            saving["what"].as_str().unwrap_or_default(),
            figure(&saving["ms"]),
            figure(&saving["low_ms"]),
            figure(&saving["high_ms"]),
            figure(&saving["percent"]),
            figure(&saving["low_percent"]),
            figure(&saving["high_percent"]),
        )
    });
    let counts = format!("{} of {} cubes compared", line["compared"], line["cubes"]);
    ways.chain(savings).chain([counts]).collect::<Vec<_>>().join("\n")
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
        let Some(found) = self.rehearser.search_budgets(&scene.0, budgets, cubes, &progress) else {
            return fault("stopped");
        };
        let found = self.made(found);
        self.log(ledger::search_budgets(&found));
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
        let Some(found) = self.rehearser.compare_rigs(&safe.0, &tuned.0, cubes, &progress) else {
            return fault("stopped");
        };
        let found = self.made(found);
        self.log(ledger::compare_rigs(&found));
        self.show(Exhibit::Comparison(found.clone()));
        Ok(ComparisonValue(found))
    }
}

/// One row of a list in the ledger's line by what it is called.
fn row(line: &Json, list: &str, key: &str, name: &str) -> Fallible<Map> {
    let rows = line[list].as_array().map_or(&[][..], Vec::as_slice);
    let found = rows.iter().find(|row| row[key] == name).map(from_json);
    match found.and_then(Dynamic::try_cast::<Map>) {
        Some(map) => Ok(map),
        None => {
            let names: Vec<&str> = rows.iter().filter_map(|row| row[key].as_str()).collect();
            fault(format!("{name:?} is not among {}", names.join("; ")))
        }
    }
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
    engine.register_get("points", |b: &mut BudgetsValue| {
        from_json(&ledger::search_budgets(&b.0)["points"])
    });
    engine.register_get("summary", |b: &mut BudgetsValue| summary_of_budgets(&b.0));
    engine.register_get("cubes", |c: &mut ComparisonValue| int(c.0.cubes.len()));
    engine.register_get("compared", |c: &mut ComparisonValue| int(c.0.compared().count()));
    engine.register_get("ways", |c: &mut ComparisonValue| {
        from_json(&ledger::compare_rigs(&c.0)["ways"])
    });
    engine.register_fn("saving", |c: ComparisonValue, what: &str| {
        row(&ledger::compare_rigs(&c.0), "savings", "what", what)
    });
    engine.register_get("summary", |c: &mut ComparisonValue| summary_of_rigs(&c.0));
}
