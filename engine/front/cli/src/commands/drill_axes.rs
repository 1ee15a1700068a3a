//! `dryturn drill-axes SCENE`: many executions on the axes alone.

use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use dryturn_cube::notation;
use dryturn_handoff::Plan;
use dryturn_record::documents::{Document, DrillDocument, DrillOfOne, Drilled as Came};
use dryturn_record::ledger::TurningLine;
use dryturn_record::{Exhibit, Sweep, digest};
use dryturn_rehearsal::Rehearser;
use dryturn_report::turning_page;
use dryturn_scene::{Scene, Values};
use dryturn_studies::{DRILL_NODES, DRILL_PLANS, NumberedPieces, TurningDrill, random_plans};
use indicatif::ProgressBar;
use serde_json::{Value as Json, json};

use crate::commands::drill_table::table;
use crate::commands::{Out, given, issued};
use crate::failure::Failure;
use crate::resume::{Pieces, Work};
use crate::shared::{Shared, setting};
use crate::{input, say, stop};

/// Most plans that one drill turns.
const MAX_PLANS: usize = 1000;
/// Most values that are compared.
const MAX_VALUES: usize = 50;

/// Where executions are kept until the drill is done.
const WORK: Work = Work { folder: ".dryturn-drill", name: "drill" };

/// A drill, and the value that it was made for where values are compared.
pub(crate) type Drilled = (Option<Compared>, Arc<TurningDrill>);

/// What `drill-axes` takes.
#[derive(clap::Args)]
pub(crate) struct DrillAxesArgs {
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

    /// Another value for a field of the scene, or for several: drive.bus_voltage_v=36,
    /// 'shafts.*.width_mm=5'; repeat the option for more, they take effect in order
    #[arg(long = "set", value_name = "FIELD=VALUE", value_parser = setting)]
    settings: Vec<(String, String)>,

    /// Drill once for each value of a field, with the same plans and the same luck; values may be
    /// names, as in handover.policy=Settle,Release,Predict
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

/// A field, or several that take one value together, and the values to compare: numbers
/// ascending, others as given.
#[derive(Clone)]
struct Comparison {
    field: String,
    values: Vec<Compared>,
}

/// One of the values.
#[derive(Clone)]
pub(crate) struct Compared {
    value: Json,
    number: Option<f64>,
}

impl Compared {
    /// As in the document: numbers as numbers with a fraction.
    fn json(&self) -> Json {
        self.number.map_or_else(|| self.value.clone(), Json::from)
    }
}

impl fmt::Display for Compared {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.number, &self.value) {
            (Some(number), _) => write!(f, "{number}"),
            (None, Json::String(text)) => f.write_str(text),
            (None, value) => write!(f, "{value}"),
        }
    }
}

fn comparison(text: &str) -> Result<Comparison, String> {
    let (field, list) = setting(text).map_err(|_| "must be FIELD=V1,V2,…".to_owned())?;
    let wrong = format!("must be at most {MAX_VALUES} values, each once, with commas between");
    let Some(Values::Listed(values)) = Values::parse(&list) else { return Err(wrong) };
    let compared = |value: Json| Compared { number: value.as_f64(), value };
    let mut values: Vec<Compared> = values.into_iter().map(compared).collect();
    if values.iter().all(|value| value.number.is_some()) {
        values.sort_by(|a, b| a.number.unwrap_or(0.0).total_cmp(&b.number.unwrap_or(0.0)));
    }
    if values.len() > MAX_VALUES || values.windows(2).any(|w| w[0].json() == w[1].json()) {
        return Err(wrong);
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

fn plans(args: &DrillAxesArgs, rehearser: &Rehearser, scene: &Scene) -> Result<Vec<Plan>, Failure> {
    let plans: Vec<Plan> = if let Some(path) = &args.plans_from {
        let text = input::text(path)?;
        let lines = text.lines().map(|line| line.split('#').next().unwrap_or_default().trim());
        let lines = lines.enumerate().filter(|(_, line)| !line.is_empty());
        let place = |number: usize| format!("{}:{}", path.display(), number + 1);
        lines.map(|(number, line)| plan(line, &place(number))).collect::<Result<_, _>>()?
    } else if args.plan.is_empty() {
        random_plans(rehearser, scene, args.plans as usize, DRILL_NODES)
    } else {
        args.plan.iter().map(|text| plan(text, "--plan")).collect::<Result<_, _>>()?
    };
    if (1..=MAX_PLANS).contains(&plans.len()) {
        return Ok(plans);
    }
    let place = args.plans_from.as_ref().map_or("--plan".into(), |path| path.to_string_lossy());
    Err(Failure::input(format!("{place}: {} plans: must be 1 to {MAX_PLANS}", plans.len())))
}

pub(crate) fn run(args: &DrillAxesArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["drill.json", "drill.csv", "drill.html"])?;
    let rehearser = Rehearser::new(shared.seed);
    let scene = input::scene_with(&args.scene, &args.settings)?;
    let scene = Arc::new(scene);
    // Every value is looked at before the first drill.
    let scenes: Vec<(Option<Compared>, Arc<Scene>)> = match &args.compare {
        None => vec![(None, scene.clone())],
        Some(Comparison { field, values }) => values
            .iter()
            .map(|v| Ok((Some(v.clone()), Arc::new(scene.with(field, v.value.clone())?))))
            .collect::<Result<_, dryturn_scene::SceneError>>()
            .map_err(Failure::input)?,
    };
    let plans = Arc::new(plans(args, &rehearser, &scene)?);
    let count = args.trials as usize;
    let bar = say::bar(ProgressBar::new((count * scenes.len()) as u64));
    let progress = |_| {
        bar.inc(1);
        stop::go_on()
    };
    let all = count * scenes.len();
    if let Some(folder) = out.folder() {
        WORK.take_up(folder, &request(&scenes, &plans, count, shared))?;
    }
    let kept = out.folder().map(|folder| Pieces::of(WORK, folder));
    let numbered = kept.as_ref().map(|kept| NumberedPieces::of(kept));
    let started = Instant::now();
    let drill = |(value, scene): &(Option<Compared>, Arc<Scene>)| {
        let drill = match &numbered {
            Some(pieces) => TurningDrill::kept(&rehearser, scene, &plans, count, &progress, pieces),
            None => TurningDrill::of(&rehearser, scene, &plans, count, &progress),
        };
        drill.map(|drill| (value.clone(), Arc::new(drill)))
    };
    let drills: Option<Vec<Drilled>> = scenes.iter().map(drill).collect();
    let wall_s = started.elapsed().as_secs_f64();
    bar.finish_and_clear();
    let Some(drills) = drills else { return Err(broken_off(kept.as_ref(), all, "executions")) };
    let recalled = kept.as_ref().map_or(0, |kept| kept.counts().1);
    let objections = objections(args, &drills);
    let document = document(args, &drills, objections.clone(), shared);
    let code = document.exit_code;
    let document = issued(Document::Drill(Box::new(document)));
    let exhibits = exhibits(args, &drills);
    let page =
        turning_page("Drill of the axes", &what(args, &scene, plans.len(), shared), &exhibits);
    let files = [("drill.csv", table(&drills).map_err(Failure::ours)?), ("drill.html", page)];
    drop(kept);
    out.finish(&document, "drill.json", &files, Some(WORK.folder))?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&text(args, &drills))?;
    }
    let made = all - recalled;
    let before =
        if recalled > 0 { format!("; {recalled} were there already") } else { String::new() };
    say::message(&format!(
        "{made} executions in {wall_s:.2} s: {:.0} a second{before}",
        made as f64 / wall_s
    ));
    for objection in objections {
        say::message(&format!("dryturn: {objection}"));
    }
    Ok(code)
}

/// What makes a drill another drill.
fn request(
    scenes: &[(Option<Compared>, Arc<Scene>)],
    plans: &[Plan],
    count: usize,
    shared: &Shared,
) -> Json {
    let scenes: Vec<String> =
        scenes.iter().map(|(_, scene)| digest(scene.to_ron().as_bytes())).collect();
    let plans: Vec<String> = plans.iter().map(Plan::notation).collect();
    json!({ "seed": shared.seed.value(), "trials": count, "scenes": scenes, "plans": plans })
}

/// Why a work has no end: what was kept could not be written, or somebody ended it.
pub(crate) fn broken_off(kept: Option<&Pieces<'_>>, all: usize, what: &str) -> Failure {
    let Some(kept) = kept else {
        return Failure::broken_off("nothing is kept without --out");
    };
    kept.failure().unwrap_or_else(|| {
        let of = if all > 0 { format!(" of {all}") } else { String::new() };
        let count = kept.counts().0;
        Failure::broken_off(format!(
            "{count}{of} {what} are kept; the same call goes on from there"
        ))
    })
}

/// Why a drill ends with code 1, a sentence without its full stop for each: nothing
/// completes, or more fails than is allowed.
fn objections(args: &DrillAxesArgs, drills: &[Drilled]) -> Vec<String> {
    let objection = |(value, drill): &Drilled| {
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
fn what(args: &DrillAxesArgs, scene: &Scene, plans: usize, shared: &Shared) -> String {
    let settings: Vec<String> =
        args.settings.iter().map(|(field, value)| format!("{field} = {value}")).collect();
    let with =
        if settings.is_empty() { String::new() } else { format!(", with {}", settings.join(", ")) };
    let (name, trials, seed) = (&scene.file().name, args.trials, shared.seed.value());
    format!("{name}{with}. {trials} trials on {plans} plans in turn, seed {seed}.")
}

fn document(
    args: &DrillAxesArgs,
    drills: &[Drilled],
    objections: Vec<String>,
    shared: &Shared,
) -> DrillDocument {
    let one = |(value, drill): &Drilled| {
        DrillOfOne::of(value.as_ref().map_or(Json::Null, Compared::json), drill)
    };
    let drilled = match (&args.compare, drills) {
        (None, [(_, drill)]) => Came::One(Box::new(TurningLine::of(drill))),
        (comparison, drills) => Came::Several {
            compare: comparison.as_ref().map_or_else(String::new, |own| own.field.clone()),
            drills: drills.iter().map(one).collect(),
        },
    };
    DrillDocument {
        file: args.scene.display().to_string(),
        seed: shared.seed.value(),
        settings: given(&args.settings),
        exit_code: u8::from(!objections.is_empty()),
        objections,
        drilled,
    }
}

fn exhibits(args: &DrillAxesArgs, drills: &[Drilled]) -> Vec<Exhibit> {
    let mut exhibits = Vec::new();
    if let Some(Comparison { field, values }) = &args.compare {
        let named = values.iter().any(|value| value.number.is_none());
        let names = values.iter().filter(|_| named).map(Compared::to_string).collect();
        let value = |place: usize| values[place].number.filter(|_| !named);
        let points = drills.iter().enumerate();
        let points =
            points.map(|(place, (_, drill))| (value(place).unwrap_or(place as f64), drill.clone()));
        let (title, setting, points) = (field.clone(), field.clone(), points.collect());
        exhibits.push(Exhibit::Sweep(Arc::new(Sweep { title, setting, points, names })));
    }
    exhibits.extend(drills.iter().map(|(_, drill)| Exhibit::Turning(drill.clone())));
    exhibits
}

/// The figures for a person.
fn text(args: &DrillAxesArgs, drills: &[Drilled]) -> String {
    let field = args.compare.as_ref().map(|comparison| comparison.field.as_str());
    let block = |(value, drill): &Drilled| match (field, value) {
        (Some(field), Some(value)) => format!("{field} = {value}\n{}", drill.summary()),
        _ => drill.summary(),
    };
    drills.iter().map(block).collect::<Vec<_>>().join("\n\n")
}
