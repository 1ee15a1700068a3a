//! The axes: what beats cost, plans for them, runs, what is shown and saved of them.

use std::sync::Arc;

use dryturn_cube::notation;
use dryturn_handoff::{Content, Plan};
use dryturn_record::ledger::{ExecuteLine, Line, PlanLine, SquareLine};
use dryturn_record::{Exhibit, ShownRun};
use dryturn_rehearsal::beat_costs;
use dryturn_studies::{COMMISSIONING_CEILING, DRILL_NODES, RigPlan, random_plans};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Map, NativeCallContext};

use super::{begin, begin_on, session};
use crate::session::{Fallible, Session, fault};
use crate::values::answers::map;
use crate::values::arguments::{MAX_NODES, MAX_PLANS, ok, within};
use crate::values::handles::{
    CubeValue, Executed, PassValue, PlanValue, RigValue, RunValue, SceneValue, SquaredValue,
};

fn planned(s: &Session, scene: &SceneValue, count: i64, nodes: i64) -> Fallible<Array> {
    let count = within("the number of plans", count, 1..=MAX_PLANS as i64)? as usize;
    let nodes = within("the node budget", nodes, 1..=MAX_NODES)?;
    let plans = random_plans(&s.rehearser, &scene.0, count, nodes);
    for (trial, plan) in plans.iter().enumerate() {
        s.log(Line::Plan(PlanLine::of(plan, &s.rehearser.random_cube(trial as u64))));
    }
    Ok(plans.into_iter().map(|plan| Dynamic::from(PlanValue(Arc::new(plan)))).collect())
}

/// The files that a rig follows, planned and proved at the ceiling, unless it must not.
fn saved_for_rig(s: &Session, pass: &PassValue, name: &str, ceiling: f64) -> Fallible<()> {
    let pass = &pass.0;
    match RigPlan::below(&s.rehearser, &pass.scene, pass.reading.state(), ceiling) {
        Ok(rig) => rig
            .files(name)
            .into_iter()
            .try_for_each(|(name, text)| s.save(&name, Content::Text(text))),
        Err(refusal) => fault(format!("no plan is written for a rig: {refusal}")),
    }
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// What beats cost in a row on the scene's drive if nothing is off, from start to start.
    ///
    /// * `scene` - the scene with the drive
    ///
    /// Gives a map of `quarter_ms`, `half_ms`, `pair_ms` (opposite quarter turns together),
    /// `between_ms` (from a stop to the next start, negative where beats overlap),
    /// `half_per_quarter`; `()` where the drive does not get through a row.
    ///
    /// ```rhai
    /// let quarter_ms = costs(foyer).quarter_ms;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn costs(context: NativeCallContext, scene: SceneValue) -> Fallible<Dynamic> {
        begin(&context, None)?;
        Ok(beat_costs(&scene.0).map_or(Dynamic::UNIT, |costs| {
            let fields: Map = map([
                ("quarter_ms", costs.quarter_s * 1e3),
                ("half_ms", costs.half_s * 1e3),
                ("pair_ms", costs.pair_s * 1e3),
                ("between_ms", costs.between_s * 1e3),
                ("half_per_quarter", costs.half_s / costs.quarter_s),
            ]);
            fields.into()
        }))
    }

    /// The plan of given turns; opposite faces in a row share a beat.
    ///
    /// * `turns` - text, WCA notation
    ///
    /// Gives the plan.
    ///
    /// ```rhai
    /// let own = plan_of("R L U2 F'");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn plan_of(turns: &str) -> Fallible<PlanValue> {
        Ok(PlanValue(Arc::new(Plan::of_turns(&ok(notation::parse(turns))?))))
    }

    /// Plans for random cubes, as `random_cube` numbers them, for least machine time on the
    /// scene's drive, 20,000 search nodes each.
    ///
    /// * `scene` - the scene with the drive
    /// * `count` - whole number of plans, 1 to 1000
    ///
    /// Gives a list of plans.
    ///
    /// ```rhai
    /// let ten = plans(foyer, 10, 1000);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn plans(
        context: NativeCallContext,
        scene: SceneValue,
        count: i64,
    ) -> Fallible<Array> {
        planned(&*begin(&context, None)?, &scene, count, DRILL_NODES as i64)
    }

    /// As above with another search budget.
    ///
    /// * `scene` - the scene with the drive
    /// * `count` - whole number of plans, 1 to 1000
    /// * `nodes` - whole number, search nodes of each, 1 to 1,000,000,000
    ///
    /// Gives a list of plans.
    #[rhai_fn(name = "plans", return_raw)]
    pub(crate) fn plans_within(
        context: NativeCallContext,
        scene: SceneValue,
        count: i64,
        nodes: i64,
    ) -> Fallible<Array> {
        planned(&*begin(&context, None)?, &scene, count, nodes)
    }

    /// Turns the cube on the rig's simulated axes.
    ///
    /// * `rig` - the rig
    /// * `cube` - the cube in it
    /// * `plan` - the turns
    ///
    /// Gives the run.
    ///
    /// ```rhai
    /// let run = execute(rig, cube, plan);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn execute(
        context: NativeCallContext,
        rig: RigValue,
        cube: CubeValue,
        plan: PlanValue,
    ) -> Fallible<RunValue> {
        let s = begin_on(&context, &rig)?;
        let run = s.made(s.rehearser.execute(&rig.0, &cube.0, &plan.0));
        let scene = rig.0.scene().clone();
        s.log(Line::Execute(Box::new(ExecuteLine::of(&run, &scene, rig.0.trial()))));
        Ok(RunValue(Arc::new(Executed { scene, plan: plan.0.clone(), run })))
    }

    /// After a stop: leads the faces that the run left on their way to their nearest stops,
    /// slowly. Then scan `run.cube`, read, plan and execute again.
    ///
    /// * `rig` - the rig
    /// * `run` - what it turned
    ///
    /// Gives what it came to.
    ///
    /// ```rhai
    /// let in_place = square(rig, run).ok;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn square(
        context: NativeCallContext,
        rig: RigValue,
        run: RunValue,
    ) -> Fallible<SquaredValue> {
        let s = begin_on(&context, &rig)?;
        let squared = s.rehearser.square(&rig.0, &run.0.run);
        s.log(Line::Square(SquareLine::of(&squared, rig.0.trial())));
        Ok(SquaredValue(Arc::new(squared)))
    }

    /// Shows a run in the report, with its charts.
    ///
    /// * `run` - the run
    /// * `title` - text, the section's title
    ///
    /// ```rhai
    /// show_run(run, "the run of trial 0");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn show_run(context: NativeCallContext, run: RunValue, title: &str) -> Fallible<()> {
        let s = session(&context)?;
        s.count_text(title)?;
        let Executed { scene, plan, run } = (*run.0).clone();
        let title = title.to_owned();
        s.show(Exhibit::Run(Arc::new(ShownRun { title, scene, plan, run })));
        Ok(())
    }

    /// Plans what was read anew for a rig at a ceiling of 25 % of its torque above friction, and
    /// writes `name.csv` and `name.json`, `name-drive.h` and a follower in C for a firmware. An
    /// error where nothing was read, or where one of 300 executions that follow the file at the
    /// ceiling fails even if every turn waits.
    ///
    /// * `pass` - the pass whose reading is planned
    /// * `name` - text, what the files are called
    ///
    /// ```rhai
    /// if pass.reading.readable {
    ///     pass.save_rig_plan("for_the_rig");
    /// }
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn save_rig_plan(
        context: NativeCallContext,
        pass: PassValue,
        name: &str,
    ) -> Fallible<()> {
        saved_for_rig(&*begin(&context, None)?, &pass, name, COMMISSIONING_CEILING)
    }

    /// As above with another ceiling.
    ///
    /// * `pass` - the pass whose reading is planned
    /// * `name` - text, what the files are called
    /// * `ceiling` - number with a decimal point, share of the torque above friction, 0.01 to 1
    #[rhai_fn(name = "save_rig_plan", return_raw)]
    pub(crate) fn save_rig_plan_below(
        context: NativeCallContext,
        pass: PassValue,
        name: &str,
        ceiling: f64,
    ) -> Fallible<()> {
        saved_for_rig(&*begin(&context, None)?, &pass, name, ceiling)
    }
}
