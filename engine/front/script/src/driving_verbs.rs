//! Verbs about the axes: plans for them, runs, drills of the axes alone, squaring.

use std::sync::Arc;

use dryturn_cube::notation;
use dryturn_handoff::{Content, Plan};
use dryturn_record::ledger::{ExecuteLine, Line, PlanLine, SquareLine, TurningLine};
use dryturn_record::{Exhibit, ShownRun, Sweep};
use dryturn_rehearsal::beat_costs;
use dryturn_studies::{
    COMMISSIONING_CEILING, DRILL_NODES, DRILL_PLANS, RigPlan, TurningDrill, random_plans,
};
use rhai::{Array, Dynamic, Engine, Map, NativeCallContext};

use crate::expectations::number;
use crate::handles::{
    CubeValue, Executed, PassValue, PlanValue, RigValue, RunValue, SceneValue, SquaredValue,
    TurningValue,
};
use crate::session::{Fallible, Session, fault};
use crate::texts::text_of;
use crate::verbs::{MAX_NODES, ok, within};

/// Most trials of one drill of the axes.
const MAX_TURNING_TRIALS: i64 = 100_000;
/// Most plans that are made at once, or turned by one drill.
const MAX_PLANS: usize = 1000;
/// Most points of a sweep.
const MAX_POINTS: usize = 100;

/// What beats cost in a row, ms.
fn costs(scene: &SceneValue) -> Dynamic {
    beat_costs(&scene.0).map_or(Dynamic::UNIT, |costs| {
        let fields = [
            ("quarter_ms", costs.quarter_s * 1e3),
            ("half_ms", costs.half_s * 1e3),
            ("pair_ms", costs.pair_s * 1e3),
            ("between_ms", costs.between_s * 1e3),
            ("half_per_quarter", costs.half_s / costs.quarter_s),
        ];
        let map: Map =
            fields.into_iter().map(|(key, v)| (key.into(), Dynamic::from_float(v))).collect();
        map.into()
    })
}

fn plans_of(items: Array) -> Fallible<Arc<Vec<Plan>>> {
    if items.is_empty() || items.len() > MAX_PLANS {
        let count = items.len();
        return fault(format!("a list of {count} plans: must be 1 to {MAX_PLANS}"));
    }
    let own = |item: Dynamic| item.try_cast::<PlanValue>().map(|plan| (*plan.0).clone());
    match items.into_iter().map(own).collect() {
        Some(plans) => Ok(Arc::new(plans)),
        None => fault("this list must hold plans only"),
    }
}

impl Session {
    fn execute(&self, rig: &RigValue, cube: &CubeValue, plan: &PlanValue) -> RunValue {
        let run = self.made(self.rehearser.execute(&rig.0, &cube.0, &plan.0));
        let scene = rig.0.scene().clone();
        self.log(Line::Execute(Box::new(ExecuteLine::of(&run, &scene, rig.0.trial()))));
        RunValue(Arc::new(Executed { scene, plan: plan.0.clone(), run }))
    }

    fn square(&self, rig: &RigValue, run: &RunValue) -> SquaredValue {
        let squared = self.rehearser.square(&rig.0, &run.0.run);
        self.log(Line::Square(SquareLine::of(&squared, rig.0.trial())));
        SquaredValue(Arc::new(squared))
    }

    fn plans(&self, scene: &SceneValue, count: i64, nodes: i64) -> Fallible<Array> {
        let count = within("the number of plans", count, 1..=MAX_PLANS as i64)? as usize;
        let nodes = within("the node budget", nodes, 1..=MAX_NODES)?;
        let plans = random_plans(&self.rehearser, &scene.0, count, nodes);
        for (trial, plan) in plans.iter().enumerate() {
            self.log(Line::Plan(PlanLine::of(plan, &self.rehearser.random_cube(trial as u64))));
        }
        Ok(plans.into_iter().map(|plan| Dynamic::from(PlanValue(Arc::new(plan)))).collect())
    }

    fn drill_turning(
        &self,
        scene: &SceneValue,
        count: i64,
        plans: &Arc<Vec<Plan>>,
    ) -> Fallible<TurningValue> {
        let count = within("the number of trials", count, 1..=MAX_TURNING_TRIALS)? as usize;
        let progress = self.watched("drill of the axes", count);
        let Some(drill) = TurningDrill::of(&self.rehearser, &scene.0, plans, count, &progress)
        else {
            return fault("stopped");
        };
        let drill = self.made(drill);
        self.log(Line::DrillTurning(Box::new(TurningLine::of(&drill))));
        self.show(Exhibit::Turning(drill.clone()));
        Ok(TurningValue(drill))
    }

    fn show_run(&self, run: &RunValue, title: &str) -> Fallible<()> {
        self.count_text(title)?;
        let Executed { scene, plan, run } = (*run.0).clone();
        let title = title.to_owned();
        self.show(Exhibit::Run(Arc::new(ShownRun { title, scene, plan, run })));
        Ok(())
    }

    fn show_sweep(&self, title: &str, setting: &str, points: Array) -> Fallible<()> {
        if points.is_empty() || points.len() > MAX_POINTS {
            let count = points.len();
            return fault(format!("a sweep of {count} points: must be 1 to {MAX_POINTS}"));
        }
        let point = |point: Dynamic| -> Fallible<_> {
            let pair =
                point.try_cast::<Array>().and_then(|pair| <[Dynamic; 2]>::try_from(pair).ok());
            let drill =
                pair.and_then(|[value, drill]| Some((value, drill.try_cast::<TurningValue>()?)));
            match drill {
                Some((value, drill)) => Ok((value, drill.0)),
                None => fault("a point of a sweep is a list [value, drill_turning(…)]"),
            }
        };
        let points = points.into_iter().map(point).collect::<Fallible<Vec<_>>>()?;
        let named = points.iter().any(|(value, _)| value.is_string());
        let names = points.iter().filter(|_| named).map(|(value, _)| text_of(value));
        let names: Vec<String> = names.collect::<Fallible<_>>()?;
        let value = |(place, (value, drill)): (usize, (Dynamic, _))| -> Fallible<_> {
            Ok((if named { place as f64 } else { number(&value)? }, drill))
        };
        let mut points = points.into_iter().enumerate().map(value).collect::<Fallible<Vec<_>>>()?;
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
        for name in &names {
            self.count_text(name)?;
        }
        self.count_text(title)?;
        self.count_text(setting)?;
        let (title, setting) = (title.to_owned(), setting.to_owned());
        // The sweep shows its drills; they need no sections of their own.
        self.hide(|exhibit| match exhibit {
            Exhibit::Turning(drill) => points.iter().any(|(_, point)| Arc::ptr_eq(point, drill)),
            _ => false,
        });
        self.show(Exhibit::Sweep(Arc::new(Sweep { title, setting, points, names })));
        Ok(())
    }

    /// The files that a rig follows, planned and proved at the ceiling, unless it must not.
    fn save_rig_plan(&self, pass: &PassValue, name: &str, ceiling: f64) -> Fallible<()> {
        let pass = &pass.0;
        match RigPlan::below(&self.rehearser, &pass.scene, pass.reading.state(), ceiling) {
            Ok(rig) => rig
                .files(name)
                .into_iter()
                .try_for_each(|(name, text)| self.save(&name, Content::Text(text))),
            Err(refusal) => fault(format!("no plan is written for a rig: {refusal}")),
        }
    }
}

/// Registers the verbs.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn("costs", move |context: NativeCallContext, scene: SceneValue| {
        s.begin(&context, None);
        costs(&scene)
    });
    engine.register_fn("plan_of", |turns: &str| -> Fallible<PlanValue> {
        Ok(PlanValue(Arc::new(Plan::of_turns(&ok(notation::parse(turns))?))))
    });
    let s = session.clone();
    engine.register_fn(
        "plans",
        move |context: NativeCallContext, scene: SceneValue, count: i64| {
            s.begin(&context, None);
            s.plans(&scene, count, DRILL_NODES as i64)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "plans",
        move |context: NativeCallContext, scene: SceneValue, count: i64, nodes: i64| {
            s.begin(&context, None);
            s.plans(&scene, count, nodes)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "execute",
        move |context: NativeCallContext, rig: RigValue, cube: CubeValue, plan: PlanValue| {
            s.begin(&context, Some(rig.0.trial()));
            s.execute(&rig, &cube, &plan)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "square",
        move |context: NativeCallContext, rig: RigValue, run: RunValue| {
            s.begin(&context, Some(rig.0.trial()));
            s.square(&rig, &run)
        },
    );
    let s = session.clone();
    engine.register_fn("show_run", move |run: RunValue, title: &str| s.show_run(&run, title));
    let s = session.clone();
    engine.register_fn("show_sweep", move |title: &str, setting: &str, points: Array| {
        s.show_sweep(title, setting, points)
    });
    register_drills(engine, session);
    let s = session.clone();
    engine.register_fn(
        "save_rig_plan",
        move |context: NativeCallContext, pass: PassValue, name: &str| {
            s.begin(&context, None);
            s.save_rig_plan(&pass, name, COMMISSIONING_CEILING)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "save_rig_plan",
        move |context: NativeCallContext, pass: PassValue, name: &str, ceiling: f64| {
            s.begin(&context, None);
            s.save_rig_plan(&pass, name, ceiling)
        },
    );
}

fn register_drills(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn(
        "drill_turning",
        move |context: NativeCallContext, scene: SceneValue, count: i64| {
            s.begin(&context, None);
            let plans = random_plans(&s.rehearser, &scene.0, DRILL_PLANS, DRILL_NODES);
            s.drill_turning(&scene, count, &Arc::new(plans))
        },
    );
    let s = session.clone();
    engine.register_fn(
        "drill_turning",
        move |context: NativeCallContext, scene: SceneValue, count: i64, plans: Array| {
            s.begin(&context, None);
            s.drill_turning(&scene, count, &plans_of(plans)?)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "drill_turning",
        move |context: NativeCallContext, scene: SceneValue, count: i64, plan: PlanValue| {
            s.begin(&context, None);
            s.drill_turning(&scene, count, &Arc::new(vec![(*plan.0).clone()]))
        },
    );
}
