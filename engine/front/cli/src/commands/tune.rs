//! `dryturn tune SCENE`: the fastest settings that keep a target, proved on fresh trials.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use dryturn_record::documents::{Document, Issued, TuneDocument};
use dryturn_record::ledger::TuneLine;
use dryturn_record::{Exhibit, digest};
use dryturn_rehearsal::Rehearser;
use dryturn_report::turning_page;
use dryturn_scene::Variation;
use dryturn_studies::{NumberedPieces, TuneRequest, TuneTarget, Tuning};
use indicatif::ProgressBar;
use serde_json::json;

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::resume::{Pieces, Work, broken_off, were_there};
use crate::shared::{Shared, setting};
use crate::{input, say, stop};

/// Where executions are kept until the tuning is done.
const WORK: Work = Work { folder: ".dryturn-tune", name: "tuning" };
const NAMES: [&str; 4] = ["tune.json", "tune.html", "settings.ron.part", "tuned.ron"];

/// What `tune` takes.
#[derive(clap::Args)]
pub(crate) struct TuneArgs {
    /// The scene whose axes are tuned
    #[arg(value_name = "SCENE")]
    scene: PathBuf,

    /// Fewer executions than this share may fail, at 95 % confidence
    #[arg(long, default_value_t = 0.01, value_name = "SHARE")]
    jam_rate: f64,

    /// The weakest shaft is at least so many times as strong as the torque limit
    #[arg(long, default_value_t = 2.0, value_name = "FACTOR")]
    safety_factor: f64,

    /// Settings that the race begins with
    #[arg(long, default_value_t = 64, value_name = "N")]
    candidates: usize,

    /// Fresh trials, on other cubes, in which the target must be kept
    #[arg(long, default_value_t = 2000, value_name = "N")]
    proof: usize,

    /// A field that may change too, within a range or a list: drive.bus_voltage_v=30,36,48,
    /// 'shafts.*.width_mm=6..10' and so on; or another range for a usual one, as
    /// handover.clearance_margin_deg=-8..0.6, which lets pieces push each other aside. Repeat the
    /// option for more
    #[arg(long, value_name = "FIELD=VALUES", value_parser = variation)]
    allow: Vec<Variation>,

    /// A field that stays as it is; repeat the option for more
    #[arg(long, value_name = "FIELD")]
    keep: Vec<String>,

    /// Another value for a field of the scene, or for several: 'shafts.*.width_mm=5'; repeat the
    /// option for more, they take effect in order
    #[arg(long = "set", value_name = "FIELD=VALUE", value_parser = setting)]
    settings: Vec<(String, String)>,
}

fn variation(text: &str) -> Result<Variation, String> {
    let form = || format!("must be {}, as in drive.bus_voltage_v=30..48", Variation::FORM);
    Variation::parse(text).ok_or_else(form)
}

pub(crate) fn run(args: &TuneArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &NAMES)?;
    let scene = input::scene_with(&args.scene, &args.settings)?;
    let request = TuneRequest {
        target: TuneTarget { jam_rate: args.jam_rate, static_safety_ratio: args.safety_factor },
        candidates: args.candidates,
        proof: args.proof,
        allow: args.allow.clone(),
        keep: args.keep.clone(),
        ..TuneRequest::of(Arc::new(scene))
    };
    // Before anything is kept of it.
    request.check().map_err(Failure::input)?;
    let bar = say::bar(ProgressBar::new_spinner());
    let progress = |_| {
        bar.inc(1);
        stop::go_on()
    };
    let started = Instant::now();
    let rehearser = Rehearser::new(shared.seed);
    if let Some(folder) = out.folder() {
        WORK.take_up(folder, &asked(args, &request, shared))?;
    }
    let kept = out.folder().map(|folder| Pieces::of(WORK, folder));
    let tuning = match &kept {
        Some(kept) => Tuning::kept(&rehearser, &request, &progress, &NumberedPieces::of(kept)),
        None => Tuning::of(&rehearser, &request, &progress),
    };
    let wall_s = started.elapsed().as_secs_f64();
    bar.finish_and_clear();
    let Some(tuning) = tuning.map_err(Failure::input)? else {
        return Err(broken_off(kept.as_ref(), 0, "executions"));
    };
    let tuning = Arc::new(tuning);
    let recalled = kept.as_ref().map_or(0, |kept| kept.counts().1);
    drop(kept);
    keep(args, &tuning, shared, out)?;
    let document = document(args, &tuning, shared);
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&tuning.summary())?;
    }
    let made = bar.position().saturating_sub(recalled as u64);
    say::message(&format!("{made} executions in {wall_s:.1} s{}", were_there(recalled)));
    Ok(u8::from(tuning.found.is_err()))
}

/// What makes a tuning another tuning.
fn asked(args: &TuneArgs, request: &TuneRequest, shared: &Shared) -> serde_json::Value {
    json!({
        "seed": shared.seed.value(), "scene": digest(request.scene.to_ron().as_bytes()),
        "jam_rate": args.jam_rate, "safety_factor": args.safety_factor,
        "candidates": args.candidates, "proof": args.proof,
        "allow": args.allow.iter().map(|variation| format!("{variation:?}")).collect::<Vec<_>>(),
        "keep": args.keep,
    })
}

fn document(args: &TuneArgs, tuning: &Tuning, shared: &Shared) -> Issued {
    issued(Document::Tune(Box::new(TuneDocument {
        file: args.scene.display().to_string(),
        seed: shared.seed.value(),
        tuning: TuneLine::of(tuning),
    })))
}

/// Document and page; and where settings were found their blocks, and the scene with them.
fn keep(args: &TuneArgs, tuning: &Arc<Tuning>, shared: &Shared, out: Out) -> Result<(), Failure> {
    let what = format!(
        "{}, tuned for fewer than {} % of executions that fail and shafts {} times as strong as the \
         torque limit; seed {}.",
        tuning.request.scene.file().name,
        100.0 * args.jam_rate,
        args.safety_factor,
        shared.seed.value()
    );
    let page = turning_page("Tuning of the axes", &what, &[Exhibit::Tuning(tuning.clone())]);
    let mut files = vec![("tune.html", page)];
    if let Ok(tuned) = &tuning.found {
        let set = args.settings.iter();
        let set: String =
            set.map(|(field, value)| format!("// tuned with {field} = {value}\n")).collect();
        files.push(("settings.ron.part", format!("{set}{}", tuned.blocks())));
        files.push(("tuned.ron", tuned.scene.to_ron()));
    }
    out.finish(&document(args, tuning, shared), "tune.json", &files, Some(WORK.folder))
}
