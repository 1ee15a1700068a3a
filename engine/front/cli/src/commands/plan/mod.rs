//! `dryturn plan STATE-or-SCRAMBLE`

mod args;
mod many;

use std::sync::Arc;
use std::time::{Duration, Instant};

use dryturn_cube::{CubeState, net, notation};
use dryturn_driving::{Ceiling, Timing};
use dryturn_handoff::Plan;
use dryturn_planning::{Budget, Objective, Planner, Served, Weights};
use dryturn_record::documents::{Document, PlanDocument, PlanRecord, RigRecord, TextbookRecord};
use dryturn_scene::Scene;
use dryturn_studies::{RigPlan, RigRequest, least_time_below};

pub(crate) use self::args::PlanArgs;
use self::args::{ObjectiveArg, TablesArg};
use crate::commands::{Out, issued, tables};
use crate::failure::Failure;
use crate::input::cube;
use crate::shared::Shared;
use crate::{input, say};

/// A request with its scene read and its tables in hand.
pub(crate) struct Setting {
    pub(crate) scene: Option<Arc<Scene>>,
    /// What it is planned and timed below: 1 unless it is for a rig.
    ceiling_share: f64,
    pub(crate) objective: Objective,
    /// What time counts, also where turns are planned for.
    pub(crate) weights: Weights,
    pub(crate) planner: Planner,
    pub(crate) served: Served,
}

impl Setting {
    fn of(args: &PlanArgs) -> Result<Self, Failure> {
        let scene = args.scene.as_deref().map(input::scene).transpose()?.map(Arc::new);
        let ceiling_share = if args.for_rig { args.ceiling } else { 1.0 };
        let least_time = |scene: &Scene| least_time_below(scene, ceiling_share);
        let weights = match scene.as_deref().and_then(least_time) {
            Some(Objective::LeastTime(weights)) => weights,
            _ => Weights::of_ratio(args.half),
        };
        let objective = match args.objective {
            ObjectiveArg::Turns => Objective::FewestTurns,
            ObjectiveArg::Time => Objective::LeastTime(weights),
        };
        let planner = Planner::new();
        if args.tables != TablesArg::Compact {
            let almanac = match (tables::almanac(args.cache.as_ref()), args.tables) {
                (Ok(almanac), _) => Some(almanac),
                (Err(_), TablesArg::Auto) => None,
                (Err(failure), _) => return Err(failure),
            };
            let metric = objective.metric();
            let lent = almanac.map_or(Ok(false), |all| all.lend(&planner, metric, args.prove));
            match (lent, args.tables) {
                (Ok(true), _) | (Ok(false), TablesArg::Auto) => {}
                (Err(why), TablesArg::Auto) => say::message(&format!(
                    "{why}: compact tables serve; `dryturn tables` builds it anew"
                )),
                (Ok(false), _) => {
                    return Err(Failure::input(
                        "the large tables are not there: `dryturn tables` builds them",
                    ));
                }
                (Err(why), _) => return Err(Failure::input(why)),
            }
        }
        planner.prepare(objective);
        let served = planner.serves(objective);
        Ok(Self { scene, ceiling_share, objective, weights, planner, served })
    }

    /// Cost in quarter turns, or in turns.
    pub(crate) fn cost_of(&self, cost: u32) -> f64 {
        match self.objective {
            Objective::FewestTurns => f64::from(cost),
            Objective::LeastTime(weights) => f64::from(cost) / f64::from(weights.quarter),
        }
    }

    /// Machine time of a plan in quarter turns, whatever it was planned for.
    pub(crate) fn machine_time(&self, plan: &Plan) -> f64 {
        let cost = self.planner.cost(plan, Objective::LeastTime(self.weights));
        f64::from(cost) / f64::from(self.weights.quarter)
    }

    /// Predicted time of a plan on the scene's drive, ms.
    pub(crate) fn predicted_ms(&self, plan: &Plan) -> Option<f64> {
        let scene = self.scene.as_deref()?;
        let ceiling = Ceiling::of(scene, self.ceiling_share)?;
        Some(Timing::below(scene, ceiling).total_s(plan)? * 1e3)
    }
}

/// Calls `search` with the budget that was asked for.
pub(crate) fn within<R>(args: &PlanArgs, search: impl FnOnce(&Budget<'_>) -> R) -> R {
    match args.ms {
        None => search(&Budget::Nodes(args.nodes)),
        Some(ms) => {
            let started = Instant::now();
            let late = || started.elapsed() >= Duration::from_millis(ms);
            search(&Budget::Until(&late))
        }
    }
}

pub(crate) fn run(args: &PlanArgs, shared: &Shared) -> Result<u8, Failure> {
    if let Some(count) = args.random {
        return many::run(args, &Setting::of(args)?, u64::from(count), shared);
    }
    let out = Out::open(shared, &["plan.json"])?;
    let state = cube::state(&args.cube.join(" "))?;
    let setting = Setting::of(args)?;
    let found =
        if args.prove { prove(args, &setting, &state) } else { search(args, &setting, &state) };
    let plan = found.plan;
    if state.turned_by(&plan.turns()) != CubeState::SOLVED {
        return Err(Failure::ours("the plan does not solve the state"));
    }
    let textbook = setting.planner.textbook(&state);
    let rig = args
        .for_rig
        .then(|| for_rig(args, &setting, &state, (&plan, &textbook), shared))
        .transpose()?;
    let files = rig.as_ref().map_or_else(Vec::new, |rig| rig.files("rig-plan"));
    let rig_record = rig.as_ref().map(|rig| RigRecord {
        ceiling_share: setting.ceiling_share,
        safe: rig.safe(),
        overlaps: rig.overlaps(),
        starts_by: rig.starts_by(),
        executions: rig.followed().counts.executions,
        clean: rig.followed().counts.clean,
        fail_at_most_share: rig.followed().fail_at_most_share(),
        files: files.iter().map(|(name, _)| name.clone()).collect(),
    });
    let predicted_ms = match &rig {
        Some(rig) => Some(rig.total_s() * 1e3),
        None => setting.predicted_ms(&plan),
    };
    let record = PlanRecord {
        faces: net::write_faces(&state.colours()),
        plan: plan.notation(),
        turns: plan.turns().len(),
        beats: plan.beats.iter().map(|b| notation::format(&b.turns)).collect(),
        nodes: found.nodes,
        cost: setting.machine_time(&plan),
        none_below: setting.cost_of(found.none_below),
        proved: found.proved,
        tables: setting.served.word().to_owned(),
        predicted_ms,
        textbook: TextbookRecord {
            plan: textbook.notation(),
            turns: textbook.turns().len(),
            cost: setting.machine_time(&textbook),
            predicted_ms: setting.predicted_ms(&textbook),
        },
        rig: rig_record,
    };
    let words = words(&record, &setting);
    let document = issued(Document::Plan(Box::new(PlanDocument::One(record))));
    let named: Vec<(&str, String)> =
        files.iter().map(|(name, text)| (name.as_str(), text.clone())).collect();
    out.keep_all(&document, "plan.json", &named)?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&plan.notation())?;
        say::message(&words);
    }
    if let Some(rig) = &rig {
        let warning = if rig.safe() { "" } else { "NOT SAFE. " };
        let ceiling = setting.ceiling_share;
        let (starts, proof) = (rig.starts_by(), rig.proved_by());
        say::message(&format!("{warning}For the rig at ceiling {ceiling}: {starts}. {proof}."));
        say::message("Before anything turns: read the cautions at the top of rig-plan.csv.");
    }
    Ok(0)
}

/// The figures of a plan for a person.
fn words(record: &PlanRecord, setting: &Setting) -> String {
    let mut text = format!(
        "{} turns in {} beats, {:.2} quarter turns of machine time (textbook: {} turns, {:.2}); {} \
         tables served",
        record.turns,
        record.beats.len(),
        record.cost,
        record.textbook.turns,
        record.textbook.cost,
        record.tables
    );
    if let Some(ms) = record.predicted_ms {
        text.push_str(&format!("; predicted {ms:.0} ms"));
    }
    let unit = match setting.objective {
        Objective::FewestTurns => "turns",
        Objective::LeastTime(_) => "quarter turns",
    };
    if record.proved {
        text.push_str("; proved: no plan is better");
    } else {
        text.push_str(&format!("; no plan under {:.2} {unit}", record.none_below));
    }
    text
}

struct FoundPlan {
    plan: Plan,
    none_below: u32,
    nodes: u64,
    proved: bool,
}

fn search(args: &PlanArgs, setting: &Setting, state: &CubeState) -> FoundPlan {
    let planned = within(args, |budget| {
        setting
            .planner
            .search(state, setting.objective, budget, &mut |_| core::ops::ControlFlow::Continue(()))
    });
    FoundPlan {
        none_below: planned.none_below,
        nodes: planned.nodes,
        proved: planned.proved(),
        plan: planned.plan,
    }
}

/// With proof; where the nodes do not suffice, the plan is a search's.
fn prove(args: &PlanArgs, setting: &Setting, state: &CubeState) -> FoundPlan {
    let proof = setting.planner.prove(state, setting.objective, args.nodes);
    if let Some((plan, cost)) = proof.best {
        return FoundPlan { plan, none_below: cost, nodes: proof.nodes, proved: true };
    }
    let planned = setting.planner.plan(state, setting.objective, args.nodes);
    let none_below = proof.none_below.max(planned.none_below);
    FoundPlan {
        proved: none_below >= planned.cost,
        none_below,
        nodes: proof.nodes + planned.nodes,
        plan: planned.plan,
    }
}

/// The plan for a rig, or a refusal.
fn for_rig(
    args: &PlanArgs,
    setting: &Setting,
    state: &CubeState,
    (plan, textbook): (&Plan, &Plan),
    shared: &Shared,
) -> Result<RigPlan, Failure> {
    let scene =
        setting.scene.as_deref().ok_or_else(|| Failure::input("--for-rig needs --scene"))?;
    let request = RigRequest {
        ceiling_share: setting.ceiling_share,
        anyway: args.unsafe_export,
        seed: shared.seed,
    };
    let rig = RigPlan::of(scene, Some(state), plan, request).map_err(|refusal| {
        let older = shared.out.as_ref().is_some_and(|out| out.join("rig-plan.csv").exists());
        let older = if older { "; the rig-plan.csv there is older" } else { "" };
        Failure::input(format!(
            "{refusal}: no plan is written for a rig (--unsafe-export overrules){older}"
        ))
    })?;
    Ok(rig.beside(textbook))
}
