//! Plans for a cube, and what can be asked of them.

use std::sync::Arc;

use dryturn_planning::{DEFAULT_NODE_BUDGET, Objective};
use dryturn_record::ledger::{Line, PlanLine};
use rhai::NativeCallContext;
use rhai::plugin::export_module;

use super::{begin, begin_on};
use crate::session::{Fallible, Session};
use crate::values::answers::int;
use crate::values::arguments::{MAX_NODES, within};
use crate::values::handles::{CubeValue, PlanValue, RigValue};

fn planned(s: &Session, objective: Objective, cube: &CubeValue, nodes: u64) -> PlanValue {
    let planned = s.rehearser.planner().plan(&cube.0, objective, nodes);
    s.log(Line::Plan(PlanLine::of(&planned.plan, &cube.0)));
    PlanValue(Arc::new(planned.plan))
}

fn fewest_turns(s: &Session, cube: &CubeValue, nodes: i64) -> Fallible<PlanValue> {
    let nodes = within("the node budget", nodes, 1..=MAX_NODES)?;
    Ok(planned(s, Objective::FewestTurns, cube, nodes))
}

fn least_time(s: &Session, rig: &RigValue, cube: &CubeValue, nodes: i64) -> Fallible<PlanValue> {
    let nodes = within("the node budget", nodes, 1..=MAX_NODES)?;
    Ok(planned(s, s.rehearser.least_time(rig.0.scene()), cube, nodes))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Fewest turns that solve the cube.
    ///
    /// * `cube` - the cube
    ///
    /// Gives the plan.
    ///
    /// ```rhai
    /// let few_turns = plan(cube);
    /// let quick = plan(rig, cube, 50000);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn plan(context: NativeCallContext, cube: CubeValue) -> Fallible<PlanValue> {
        fewest_turns(&*begin(&context, None)?, &cube, DEFAULT_NODE_BUDGET as i64)
    }

    /// As above with another search budget.
    ///
    /// * `cube` - the cube
    /// * `nodes` - whole number, search nodes, 1 to 1,000,000,000
    ///
    /// Gives the plan.
    #[rhai_fn(name = "plan", return_raw)]
    pub(crate) fn plan_within(
        context: NativeCallContext,
        cube: CubeValue,
        nodes: i64,
    ) -> Fallible<PlanValue> {
        fewest_turns(&*begin(&context, None)?, &cube, nodes)
    }

    /// Plans for least machine time on the rig's drive, as `rehearse` does.
    ///
    /// * `rig` - the rig that will turn the cube
    /// * `cube` - the cube
    ///
    /// Gives the plan.
    #[rhai_fn(name = "plan", return_raw)]
    pub(crate) fn plan_time(
        context: NativeCallContext,
        rig: RigValue,
        cube: CubeValue,
    ) -> Fallible<PlanValue> {
        least_time(&*begin_on(&context, &rig)?, &rig, &cube, DEFAULT_NODE_BUDGET as i64)
    }

    /// As above, for least machine time, with another search budget.
    ///
    /// * `rig` - the rig that will turn the cube
    /// * `cube` - the cube
    /// * `nodes` - whole number, search nodes, 1 to 1,000,000,000
    ///
    /// Gives the plan.
    #[rhai_fn(name = "plan", return_raw)]
    pub(crate) fn plan_time_within(
        context: NativeCallContext,
        rig: RigValue,
        cube: CubeValue,
        nodes: i64,
    ) -> Fallible<PlanValue> {
        least_time(&*begin_on(&context, &rig)?, &rig, &cube, nodes)
    }

    /// The first plan of a plain search by way of a subgroup (common practice, no source), to
    /// compare with.
    ///
    /// * `cube` - the cube
    ///
    /// Gives the plan.
    ///
    /// ```rhai
    /// let plain = textbook_plan(cube);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn textbook_plan(
        context: NativeCallContext,
        cube: CubeValue,
    ) -> Fallible<PlanValue> {
        let s = begin(&context, None)?;
        let plan = s.rehearser.planner().textbook(&cube.0);
        s.log(Line::Plan(PlanLine::of(&plan, &cube.0)));
        Ok(PlanValue(Arc::new(plan)))
    }

    /// The turns in WCA notation.
    #[rhai_fn(get = "notation", pure)]
    pub(crate) fn notation(plan: &mut PlanValue) -> String {
        plan.0.notation()
    }

    /// How many turns.
    #[rhai_fn(get = "turns", pure)]
    pub(crate) fn turns(plan: &mut PlanValue) -> i64 {
        int(plan.0.turns().len())
    }

    /// How many beats: one turn, or two of opposite faces together.
    #[rhai_fn(get = "beats", pure)]
    pub(crate) fn beats(plan: &mut PlanValue) -> i64 {
        int(plan.0.beats.len())
    }
}
