//! `dryturn drill-axes SCENE`: many executions on the axes alone.

mod compared;
mod table;
mod told;

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use dryturn_cube::notation;
use dryturn_guests::{GuestCommand, Invited};
use dryturn_handoff::{GuestRole, Plan};
use dryturn_record::digest;
use dryturn_record::documents::Document;
use dryturn_rehearsal::Rehearser;
use dryturn_report::turning_page;
use dryturn_scene::Scene;
use dryturn_studies::{
    DRILL_NODES, DRILL_PLANS, GuestDrives, NumberedPieces, TurningDrill, random_plans,
};
use indicatif::ProgressBar;
use serde_json::{Value as Json, json};

use self::compared::{Compared, Comparison, comparison};
use self::table::table;
use self::told::{document, exhibits, objections, text, what};
use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::resume::{Pieces, Work, broken_off, were_there};
use crate::shared::{Shared, guest, invited, setting};
use crate::{input, say, stop};

/// Most plans that one drill turns.
const MAX_PLANS: usize = 1000;

/// Where executions are kept until the drill is done.
const WORK: Work = Work { folder: ".dryturn-drill", name: "drill" };

/// Parts that guests can play.
const AT_THE_DRIVE: [GuestRole; 2] = [GuestRole::Host, GuestRole::Controller];
/// Most guests that did not end as they must, of which is told one by one.
const MAX_TOLD: usize = 5;

/// A drill, and the value that it was made for where values are compared.
pub(crate) type Drilled = (Option<Compared>, Arc<TurningDrill>);

/// Document, table and page.
const NAMES: [&str; 3] = ["drill_axes.json", "drill_axes.csv", "drill_axes.html"];

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

    /// A program of your own at the drive, host or controller: it turns the same plans beside
    /// Dryturn's own, with the same luck. The command is split into words as by a shell, which does
    /// not run. Repeat the option for the other part. Such a drill does not go on where it stopped
    #[arg(long = "guest", value_name = "ROLE=COMMAND", value_parser = guest,
          conflicts_with = "compare")]
    guests: Vec<(GuestRole, GuestCommand)>,

    /// Let the scene's own host and controller play: programs that it names, which run with your
    /// rights
    #[arg(long, conflicts_with = "compare")]
    allow_guests: bool,

    /// End with code 1 where a larger share of the executions fails, 0 to 1, whatever the cause
    #[arg(long, value_name = "SHARE", value_parser = share, allow_negative_numbers = true)]
    fail_above: Option<f64>,
}

fn share(text: &str) -> Result<f64, String> {
    let share = text.parse().ok().filter(|share: &f64| (0.0..=1.0).contains(share));
    share.ok_or_else(|| "must be a share, 0 to 1, as in 0.01".to_owned())
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
    let out = Out::open(shared, &NAMES)?;
    let rehearser = Rehearser::new(shared.seed);
    let scene = input::scene_with(&args.scene, &args.settings)?;
    let scene = Arc::new(scene);
    // Every value is looked at before the first drill.
    let guests = guests(args, &scene)?;
    let players = guests.as_ref().map(|_| Comparison::of_players());
    let compare = players.as_ref().or(args.compare.as_ref());
    let scenes: Vec<(Option<Compared>, Arc<Scene>)> = match compare {
        None => vec![(None, scene.clone())],
        Some(Comparison { values, .. }) if guests.is_some() => {
            values.iter().map(|value| (Some(value.clone()), scene.clone())).collect()
        }
        Some(Comparison { field, values }) => values
            .iter()
            .map(|v| Ok((Some(v.clone()), Arc::new(scene.with(field, v.value.clone())?))))
            .collect::<Result<_, dryturn_scene::SceneError>>()
            .map_err(Failure::input)?,
    };
    let plans = Arc::new(plans(args, &rehearser, &scene)?);
    let count = args.trials as usize;
    let all = count * scenes.len();
    let bar = say::bar(ProgressBar::new(all as u64));
    let progress = |_| {
        bar.inc(1);
        stop::go_on()
    };
    let keeps = out.folder().filter(|_| guests.is_none());
    if let Some(folder) = keeps {
        WORK.take_up(folder, &request(&scenes, &plans, count, shared))?;
    }
    let kept = keeps.map(|folder| Pieces::of(WORK, folder));
    let numbered = kept.as_ref().map(|kept| NumberedPieces::of(kept));
    let started = Instant::now();
    let drill = |(value, scene): &(Option<Compared>, Arc<Scene>)| {
        let drill = match &numbered {
            Some(pieces) => TurningDrill::kept(&rehearser, scene, &plans, count, &progress, pieces),
            None => TurningDrill::of(&rehearser, scene, &plans, count, &progress),
        };
        drill.map(|drill| (value.clone(), Arc::new(drill)))
    };
    // Guests come second.
    let ours = if guests.is_some() { &scenes[..1] } else { &scenes[..] };
    let mut drills: Option<Vec<Drilled>> = ours.iter().map(drill).collect();
    let mut fared = None;
    if let (Some(all), Some(invited)) = (&mut drills, &guests) {
        let by_guests =
            TurningDrill::by_guests(&rehearser, &scene, &plans, count, invited, &progress);
        match by_guests.map_err(Failure::input)? {
            Some((drill, own)) => {
                all.push((scenes[1].0.clone(), Arc::new(drill)));
                fared = Some(own);
            }
            None => drills = None,
        }
    }
    let wall_s = started.elapsed().as_secs_f64();
    bar.finish_and_clear();
    let Some(drills) = drills else { return Err(broken_off(kept.as_ref(), all, "executions")) };
    let recalled = kept.as_ref().map_or(0, |kept| kept.counts().1);
    let objections = objections(args, compare, &drills);
    let document = document(args, compare, &drills, (objections.clone(), shared));
    let code = document.exit_code;
    let document = issued(Document::DrillAxes(Box::new(document)));
    let exhibits = exhibits(compare, &drills);
    let page =
        turning_page("Drill of the axes", &what(args, &scene, plans.len(), shared), &exhibits);
    let [name, table_name, page_name] = NAMES;
    let files = [(table_name, table(&drills).map_err(Failure::ours)?), (page_name, page)];
    drop(kept);
    out.finish(&document, name, &files, Some(WORK.folder))?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&text(compare, &drills))?;
    }
    let made = all - recalled;
    say::message(&format!(
        "{made} executions in {wall_s:.2} s: {:.0} a second{}",
        made as f64 / wall_s,
        were_there(recalled)
    ));
    if let Some(fared) = fared {
        tell(&fared, &drills[1].1, count);
    }
    for objection in objections {
        say::message(&format!("dryturn: {objection}"));
    }
    Ok(code)
}

/// Who plays at the drive; `None` where Dryturn alone does.
fn guests(args: &DrillAxesArgs, scene: &Scene) -> Result<Option<Invited>, Failure> {
    let invited = invited(&args.guests, args.allow_guests)?;
    let elsewhere = |role: &&GuestRole| !AT_THE_DRIVE.contains(role);
    if let Some(role) = invited.named.keys().find(elsewhere) {
        return Err(Failure::input(format!(
            "--guest {role}: only axes turn here: must be host or controller"
        )));
    }
    let named = |role: &GuestRole| invited.who(scene, *role).map(|who| who.is_some());
    if !invited.anybody() {
        return Ok(None);
    }
    let named = AT_THE_DRIVE.iter().map(named).collect::<Result<Vec<bool>, _>>();
    let plays = named.map_err(Failure::input)?.contains(&true);
    if !plays {
        let name = &scene.file().name;
        return Err(Failure::input(format!(
            "--allow-guests: {name} names no host and no controller"
        )));
    }
    Ok(Some(invited))
}

/// Tells how guests fared.
fn tell(fared: &GuestDrives, drill: &TurningDrill, count: usize) {
    if let Some((number, fault)) = &fared.first_fault {
        let (faults, trials) = (fared.faults, drill.trials());
        say::message(&format!(
            "a guest could not go on in {faults} of {trials} executions; in number {number}, {fault}"
        ));
        fault.fault.stderr.iter().for_each(|line| say::message(&format!("    {line}")));
    }
    if drill.trials() < count {
        let others = count - drill.trials();
        say::message(&format!(
            "no answer came in time: the other {others} executions are left out"
        ));
    }
    for fault in fared.unruly.iter().take(MAX_TOLD) {
        say::message(&format!("after its execution, {fault}"));
    }
    for (role, own) in &fared.thought {
        let seconds = own.as_secs_f64();
        say::message(&format!("    waiting for the {role}'s answers: {seconds:.2} s"));
    }
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
