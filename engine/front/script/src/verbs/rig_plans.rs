//! Planning for a tuned rig: what beats cost, how long to search, what it saves.

use dryturn_record::Exhibit;
use dryturn_record::ledger::{BudgetsLine, CompareLine, Line};
use dryturn_studies::{BUDGETS, RigComparison, SearchBudgets, Transitions};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, NativeCallContext};
use serde_json::json;

use super::begin;
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{from_json, int, shown};
use crate::values::arguments::{MAX_NODES, within};
use crate::values::handles::{BudgetsValue, ComparisonValue, SceneValue};

/// Most cubes of one comparison.
const MAX_CUBES: i64 = 10_000;
/// Most budgets that are compared.
const MAX_BUDGETS: usize = 100;

/// What beats cost after one another, ms.
fn costs_ms(costs: &Transitions) -> Dynamic {
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

fn searched(
    s: &Session,
    scene: &SceneValue,
    cubes: i64,
    budgets: &[u64],
) -> Fallible<BudgetsValue> {
    let cubes = within("the number of cubes", cubes, 1..=MAX_CUBES)? as usize;
    let progress = s.watched("search budgets", cubes * budgets.len());
    let found = SearchBudgets::of(&s.rehearser, &scene.0, budgets, cubes, &progress);
    let Some(found) = found else { return fault("stopped") };
    let found = s.made(found);
    s.log(Line::SearchBudgets(BudgetsLine::of(&found)));
    s.show(Exhibit::Budgets(found.clone()));
    Ok(BudgetsValue(found))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// What a beat costs after another on the scene's drive if nothing is off, from start to start.
    /// A second stands where the drive does not get through a row.
    ///
    /// * `scene` - the scene with the drive
    ///
    /// Gives a map, ms: `quarter_quarter_same_ms`, `quarter_half_opposite_ms` and so on (kinds of
    /// the two turns, and whether both have the same sense; a half turn is clockwise),
    /// `quarter_pair_longer_ms` and `half_pair_longer_ms` (what opposite faces together take
    /// longer), `quarter_last_ms` and `half_last_ms` (the last beat, to its stop), `first_ms`.
    ///
    /// ```rhai
    /// let in_a_row_ms = transitions(foyer).quarter_quarter_same_ms;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn transitions(context: NativeCallContext, scene: SceneValue) -> Fallible<Dynamic> {
        let s = begin(&context, None)?;
        Ok(costs_ms(&s.rehearser.transitions(&scene.0)))
    }

    /// Plans random cubes 0 to cubes − 1 for the scene's drive with budgets from 1000 to 500,000
    /// nodes. A search costs the nodes that it really spends (it always goes on to a first plan) at
    /// the host's speed. The report shows it.
    ///
    /// * `scene` - the scene with drive and host
    /// * `cubes` - whole number of cubes, 1 to 10,000
    ///
    /// Gives the budgets.
    ///
    /// ```rhai
    /// let budgets = search_budgets(foyer, 2, [1000, 5000]);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn search_budgets(
        context: NativeCallContext,
        scene: SceneValue,
        cubes: i64,
    ) -> Fallible<BudgetsValue> {
        searched(&*begin(&context, None)?, &scene, cubes, &BUDGETS)
    }

    /// As above with budgets of your own.
    ///
    /// * `scene` - the scene with drive and host
    /// * `cubes` - whole number of cubes, 1 to 10,000
    /// * `budgets` - list of 1 to 100 whole numbers, nodes, 1 to 1,000,000,000 each
    ///
    /// Gives the budgets.
    #[rhai_fn(name = "search_budgets", return_raw)]
    pub(crate) fn search_given_budgets(
        context: NativeCallContext,
        scene: SceneValue,
        cubes: i64,
        budgets: Array,
    ) -> Fallible<BudgetsValue> {
        searched(&*begin(&context, None)?, &scene, cubes, &nodes_of(budgets)?)
    }

    /// Turns random cubes 0 to cubes − 1 four ways, each cube with the same luck: the textbook plan
    /// and the plan for the rig, on the safe scene and on the tuned one. The clock runs from the
    /// start button to the last stop. Searches cost the nodes that they really spend, the
    /// textbook's too. Cubes that a way did not complete are counted and left out of all four. The
    /// report shows it.
    ///
    /// * `safe` - the scene with safe timing
    /// * `tuned` - the scene with tuned timing
    /// * `cubes` - whole number of cubes, 1 to 10,000
    ///
    /// Gives the comparison.
    ///
    /// ```rhai
    /// let comparison = compare_rigs(foyer, foyer, 2);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn compare_rigs(
        context: NativeCallContext,
        safe: SceneValue,
        tuned: SceneValue,
        cubes: i64,
    ) -> Fallible<ComparisonValue> {
        let s = begin(&context, None)?;
        let cubes = within("the number of cubes", cubes, 1..=MAX_CUBES)? as usize;
        let progress = s.watched("comparison of rigs", cubes);
        let found = RigComparison::of(&s.rehearser, &safe.0, &tuned.0, cubes, &progress);
        let Some(found) = found else { return fault("stopped") };
        let found = s.made(found);
        s.log(Line::CompareRigs(CompareLine::of(&found)));
        s.show(Exhibit::Comparison(found.clone()));
        Ok(ComparisonValue(found))
    }

    /// What a comparison saves, on average.
    ///
    /// * `comparison` - the comparison
    /// * `what` - text: `"both together"`, `"the plan's share"`, `"the timing's share"` (means over
    ///   both orders, which add up), `"the plan, on safe timing"`, `"the plan, on tuned timing"`,
    ///   `"the timing, with the textbook plan"`, `"the timing, with the plan for the rig"`
    ///
    /// Gives a map of `ms`, `low_ms`, `high_ms`, and of the textbook plan's mean on safe timing
    /// `percent`, `low_percent`, `high_percent` (95 % paired bootstrap intervals).
    ///
    /// ```rhai
    /// let saved_ms = comparison.saving("both together").ms;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn saving(comparison: ComparisonValue, what: &str) -> Fallible<Dynamic> {
        let line = CompareLine::of(&comparison.0);
        if let Some(row) = line.savings.iter().find(|row| row.what == what) {
            return Ok(shown(row));
        }
        let names: Vec<&str> = line.savings.iter().map(|row| row.what.as_str()).collect();
        fault(format!("{what:?} is not among {}", names.join("; ")))
    }

    /// The budget with the least mean time of search and execution, nodes.
    #[rhai_fn(get = "best_nodes", pure)]
    pub(crate) fn best_nodes(budgets: &mut BudgetsValue) -> i64 {
        budgets.0.best_nodes() as i64
    }

    /// List by budget: `budget`, `nodes` (spent, mean), `search_ms`, `execution_ms` (predicted,
    /// mean), `total` and `over_best` (how much more than at the best budget), each `ms`, `low_ms`,
    /// `high_ms` (95 % paired bootstrap interval).
    #[rhai_fn(get = "points", pure)]
    pub(crate) fn points(budgets: &mut BudgetsValue) -> Dynamic {
        shown(&BudgetsLine::of(&budgets.0).points)
    }

    /// The figures as text.
    #[rhai_fn(get = "summary", pure)]
    pub(crate) fn budgets_summary(budgets: &mut BudgetsValue) -> String {
        BudgetsLine::of(&budgets.0).summary()
    }

    /// How many cubes.
    #[rhai_fn(get = "cubes", pure)]
    pub(crate) fn cubes(comparison: &mut ComparisonValue) -> i64 {
        int(comparison.0.cubes.len())
    }

    /// How many were completed all four ways.
    #[rhai_fn(get = "compared", pure)]
    pub(crate) fn compared(comparison: &mut ComparisonValue) -> i64 {
        int(comparison.0.compared().count())
    }

    /// List of four: textbook plan and plan for the rig on safe timing, then on tuned timing: `way`
    /// (name), `mean_ms`, `median_ms` (`()` where nothing was compared), `jammed`, `stopped`,
    /// `parts_ms` (mean `exposure`, `read_out`, `transfer`, `reading`, `search`, `execution`).
    #[rhai_fn(get = "ways", pure)]
    pub(crate) fn ways(comparison: &mut ComparisonValue) -> Dynamic {
        shown(&CompareLine::of(&comparison.0).ways)
    }

    /// The figures as text.
    #[rhai_fn(get = "summary", pure)]
    pub(crate) fn comparison_summary(comparison: &mut ComparisonValue) -> String {
        CompareLine::of(&comparison.0).summary()
    }
}
