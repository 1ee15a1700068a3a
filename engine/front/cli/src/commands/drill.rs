//! `dryturn drill SCENE`: many executions on the axes alone.

use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use dryturn_cube::notation;
use dryturn_handoff::Plan;
use dryturn_rehearsal::{
    DRILL_NODES, DRILL_PLANS, Exhibit, Rehearser, Sweep, TurningDrill, ledger,
};
use dryturn_report::turning_page;
use dryturn_scene::Scene;
use indicatif::ProgressBar;
use serde_json::{Value as Json, json};

use crate::args::{Shared, setting};
use crate::commands::drill_table::table;
use crate::commands::keep_all;
use crate::failure::Failure;
use crate::{input, say};

/// Most plans that one drill turns.
const MAX_PLANS: usize = 1000;
/// Most values that are compared.
const MAX_VALUES: usize = 50;

/// What `drill` takes.
#[derive(clap::Args)]
pub(crate) struct DrillArgs {
    /// The scene whose axes turn
    #[arg(value_name = "SCENE")]
    scene: PathBuf,

    /// Executions, each with errors of its own
    #[arg(long, default_value_t = 1000, value_name = "N",
          value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    trials: u32,

    /// Random cubes whose plans are turned, one after the other
    #[arg(long, default_value_t = DRILL_PLANS as u32, value_name = "N",
          conflicts_with_all = ["plan", "plans_from"],
          value_parser = clap::value_parser!(u32).range(1..=MAX_PLANS as i64))]
    plans: u32,

    /// Turn this plan instead, in WCA notation; repeat the option for more
    #[arg(long, value_name = "NOTATION", conflicts_with = "plans_from")]
    plan: Vec<String>,

    /// Turn the plans of a text file instead: one a line in WCA notation, from # on a remark
    #[arg(long, value_name = "FILE")]
    plans_from: Option<PathBuf>,

    /// Another value for a field of the scene; repeat the option for more, they take effect in order
    #[arg(long = "set", value_name = "FIELD=VALUE", value_parser = setting)]
    settings: Vec<(String, String)>,

    /// Drill once for each value of a field, with the same plans and the same luck
    #[arg(long, value_name = "FIELD=V1,V2,…", value_parser = comparison)]
    compare: Option<Comparison>,

    /// End with code 1 where a larger share of the executions fails, 0 to 1, whatever the cause
    #[arg(long, value_name = "SHARE", value_parser = share, allow_negative_numbers = true)]
    fail_above: Option<f64>,
}

fn share(text: &str) -> Result<f64, String> {
    let share = text.parse().ok().filter(|share: &f64| (0.0..=1.0).contains(share));
    share.ok_or_else(|| "must be a share, 0 to 1, as in 0.01".to_owned())
}

/// A field and the values to compare, ascending.
#[derive(Clone)]
struct Comparison {
    field: String,
    values: Vec<f64>,
}

fn comparison(text: &str) -> Result<Comparison, String> {
    let (field, list) = setting(text).map_err(|_| "must be FIELD=V1,V2,…".to_owned())?;
    let number = |text: &str| text.trim().parse().ok().filter(|v: &f64| v.is_finite());
    let values: Option<Vec<f64>> = list.split(',').map(number).collect();
    let mut values = values.ok_or_else(|| "the values must be numbers".to_owned())?;
    values.sort_by(f64::total_cmp);
    if values.len() > MAX_VALUES || values.windows(2).any(|pair| pair[0] == pair[1]) {
        return Err(format!("must be at most {MAX_VALUES} values, each once"));
    }
    Ok(Comparison { field, values })
}

/// A plan of at least one turn.
fn plan(text: &str, place: &str) -> Result<Plan, Failure> {
    let wrong = |what: String| Failure::input(format!("{place}: {what}"));
    let turns = notation::parse(text).map_err(|error| wrong(error.to_string()))?;
    if turns.is_empty() {
        return Err(wrong("no turns: must be turns in WCA notation, as in R U2 F'".to_owned()));
    }
    Ok(Plan::of_turns(&turns))
}

fn plans(args: &DrillArgs, rehearser: &Rehearser, scene: &Scene) -> Result<Vec<Plan>, Failure> {
    let plans: Vec<Plan> = if let Some(path) = &args.plans_from {
        let text = input::text(path)?;
        let lines = text.lines().map(|line| line.split('#').next().unwrap_or_default().trim());
        let lines = lines.enumerate().filter(|(_, line)| !line.is_empty());
        let place = |number: usize| format!("{}:{}", path.display(), number + 1);
        lines.map(|(number, line)| plan(line, &place(number))).collect::<Result<_, _>>()?
    } else if args.plan.is_empty() {
        rehearser.random_plans(scene, args.plans as usize, DRILL_NODES)
    } else {
        args.plan.iter().map(|text| plan(text, "--plan")).collect::<Result<_, _>>()?
    };
    if (1..=MAX_PLANS).contains(&plans.len()) {
        return Ok(plans);
    }
    let place = args.plans_from.as_ref().map_or("--plan".into(), |path| path.to_string_lossy());
    Err(Failure::input(format!("{place}: {} plans: must be 1 to {MAX_PLANS}", plans.len())))
}

pub(crate) fn run(args: &DrillArgs, shared: &Shared) -> Result<u8, Failure> {
    let rehearser = Rehearser::new(shared.seed);
    let scene = input::scene_with(&args.scene, &args.settings)?;
    let scene = Arc::new(scene);
    // Every value is looked at before the first drill.
    let scenes: Vec<(Option<f64>, Arc<Scene>)> = match &args.compare {
        None => vec![(None, scene.clone())],
        Some(Comparison { field, values }) => values
            .iter()
            .map(|&value| Ok((Some(value), Arc::new(scene.with_text(field, &value.to_string())?))))
            .collect::<Result<_, dryturn_scene::SceneError>>()
            .map_err(Failure::input)?,
    };
    let plans = Arc::new(plans(args, &rehearser, &scene)?);
    let count = args.trials as usize;
    let bar = say::bar(ProgressBar::new((count * scenes.len()) as u64));
    let progress = |_| {
        bar.inc(1);
        ControlFlow::Continue(())
    };
    let started = Instant::now();
    let drill = |(value, scene): &(Option<f64>, Arc<Scene>)| {
        let drill = rehearser.drill_turning(scene, &plans, count, &progress);
        drill.map(|drill| (*value, Arc::new(drill)))
    };
    let drills: Option<Vec<(Option<f64>, Arc<TurningDrill>)>> = scenes.iter().map(drill).collect();
    let wall_s = started.elapsed().as_secs_f64();
    bar.finish_and_clear();
    let drills = drills.ok_or_else(|| Failure::ours("a drill without an end"))?;
    let objections = objections(args, &drills);
    let code = u8::from(!objections.is_empty());
    let mut document = document(args, &drills, shared);
    document["exit_code"] = json!(code);
    document["objections"] = json!(objections);
    let exhibits = exhibits(args, &drills);
    let page =
        turning_page("Drill of the axes", &what(args, &scene, plans.len(), shared), &exhibits);
    let files = [("drill.csv", table(&drills).map_err(Failure::ours)?), ("drill.html", page)];
    keep_all(&document, "drill.json", &files, shared)?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&text(args, &drills))?;
    }
    let all = count * drills.len();
    say::message(&format!(
        "{all} executions in {wall_s:.2} s: {:.0} a second",
        all as f64 / wall_s
    ));
    for objection in objections {
        say::message(&format!("dryturn: {objection}"));
    }
    Ok(code)
}

/// Why a drill ends with code 1, a sentence without its full stop for each: nothing
/// completes, or more fails than is allowed.
fn objections(args: &DrillArgs, drills: &[(Option<f64>, Arc<TurningDrill>)]) -> Vec<String> {
    let objection = |(value, drill): &(Option<f64>, Arc<TurningDrill>)| {
        let failures = drill.failures();
        let at = match (&args.compare, value) {
            (Some(comparison), Some(value)) => format!("at {} = {value} ", comparison.field),
            _ => String::new(),
        };
        if failures.count() == failures.trials() {
            return Some(format!("{at}nothing completes: {}", failures.words()));
        }
        let most = args.fail_above.filter(|most| failures.share() > *most)?;
        Some(format!("{at}more than a share of {most} fails: {}", failures.words()))
    };
    drills.iter().filter_map(objection).collect()
}

/// What was asked for, for a person.
fn what(args: &DrillArgs, scene: &Scene, plans: usize, shared: &Shared) -> String {
    let settings: Vec<String> =
        args.settings.iter().map(|(field, value)| format!("{field} = {value}")).collect();
    let with =
        if settings.is_empty() { String::new() } else { format!(", with {}", settings.join(", ")) };
    let (name, trials, seed) = (&scene.file().name, args.trials, shared.seed.value());
    format!("{name}{with}. {trials} trials on {plans} plans in turn, seed {seed}.")
}

fn document(
    args: &DrillArgs,
    drills: &[(Option<f64>, Arc<TurningDrill>)],
    shared: &Shared,
) -> Json {
    let figures = |drill: &TurningDrill| {
        let mut figures = ledger::turning_drill(drill);
        if let Some(fields) = figures.as_object_mut() {
            fields.remove("stage");
        }
        figures
    };
    let settings: Vec<Json> = args
        .settings
        .iter()
        .map(|(field, value)| json!({ "field": field, "value": value }))
        .collect();
    let mut document = match (&args.compare, drills) {
        (None, [(_, drill)]) => figures(drill),
        _ => {
            let point = |(value, drill): &(Option<f64>, Arc<TurningDrill>)| {
                let mut point = figures(drill);
                point["value"] = json!(value);
                point
            };
            json!({ "drills": drills.iter().map(point).collect::<Vec<_>>() })
        }
    };
    document["command"] = json!("drill");
    document["file"] = json!(args.scene.display().to_string());
    document["seed"] = json!(shared.seed.value());
    document["settings"] = json!(settings);
    if let Some(comparison) = &args.compare {
        document["compare"] = json!(comparison.field);
    }
    document
}

fn exhibits(args: &DrillArgs, drills: &[(Option<f64>, Arc<TurningDrill>)]) -> Vec<Exhibit> {
    let mut exhibits = Vec::new();
    if let Some(Comparison { field, .. }) = &args.compare {
        let points = drills.iter().filter_map(|(value, drill)| Some(((*value)?, drill.clone())));
        let sweep =
            Sweep { title: field.clone(), setting: field.clone(), points: points.collect() };
        exhibits.push(Exhibit::Sweep(Arc::new(sweep)));
    }
    exhibits.extend(drills.iter().map(|(_, drill)| Exhibit::Turning(drill.clone())));
    exhibits
}

/// The figures for a person.
fn text(args: &DrillArgs, drills: &[(Option<f64>, Arc<TurningDrill>)]) -> String {
    let field = args.compare.as_ref().map(|comparison| comparison.field.as_str());
    let block = |(value, drill): &(Option<f64>, Arc<TurningDrill>)| match (field, value) {
        (Some(field), Some(value)) => format!("{field} = {value}\n{}", drill.summary()),
        _ => drill.summary(),
    };
    drills.iter().map(block).collect::<Vec<_>>().join("\n\n")
}
