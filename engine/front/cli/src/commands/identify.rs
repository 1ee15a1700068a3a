//! `dryturn identify SCENE LOG…`: what logs of one axis tell of it.

use std::path::PathBuf;
use std::sync::Arc;

use dryturn_record::documents::{Document, IdentifyDocument, Issued};
use dryturn_record::ledger::IdentifyLine;
use dryturn_record::{Exhibit, ShownIdentification};
use dryturn_report::logs_page;
use dryturn_studies::motor::{Identified, IdentifyError, axis_log, identify};
use dryturn_studies::{identified_words, logs_title, measured_block, with_measured};

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::shared::Shared;
use crate::{input, say};

/// Most logs of one axis.
const MAX_LOGS: usize = 100;
/// An error about all logs names so many.
const MOST_NAMED: usize = 3;

/// What `identify` takes.
#[derive(clap::Args)]
pub(crate) struct IdentifyArgs {
    /// The scene that the axis is drawn in
    #[arg(value_name = "SCENE")]
    scene: PathBuf,

    /// Logs of one axis (CSV): time_s,angle_deg and, where they were logged, speed_rad_s and
    /// current_a; single moves from rest to rest at several speeds, or a coasting axis
    /// without current_a
    #[arg(required = true, value_name = "LOG")]
    logs: Vec<PathBuf>,

    /// Which move is kept out of the fit and predicted, counted from 1 over all logs; the last
    /// unless given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    held_out: Option<u32>,
}

pub(crate) fn run(args: &IdentifyArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["identify.json", "drive.ron", "identify.html"])?;
    let scene = input::scene(&args.scene)?;
    if args.logs.len() > MAX_LOGS {
        let count = args.logs.len();
        return Err(Failure::input(format!("{count} logs: must be at most {MAX_LOGS}")));
    }
    let read = |path: &PathBuf| {
        let text = input::log(path)?;
        axis_log(&text, &scene.file().drive)
            .map_err(|error| Failure::input(format!("{}: {error}", path.display())))
    };
    let logs = args.logs.iter().map(read).collect::<Result<Vec<_>, _>>()?;
    let found = identify(&logs, scene.file(), args.held_out.map(|n| n as usize))
        .map_err(|error| Failure::input(named(&error, &args.logs)))?;
    let found = Arc::new(found);
    let mut lines = identified_words(&found);
    let mut warnings = found.warnings.clone();
    if let Err(reason) = with_measured(&scene, &found) {
        warnings.push(format!("the scene does not take these figures: {reason}"));
    }
    let block = measured_block(&found, &warnings);
    let title = logs_title(logs.len(), &scene);
    let exhibit =
        Exhibit::Identified(Arc::new(ShownIdentification { title, found: found.clone() }));
    let page = logs_page("One axis by its own logs.", &[exhibit]);
    let document = document(args, &found, &warnings, &block);
    let files = [("drive.ron", block.clone()), ("identify.html", page)];
    out.keep_all(&document, "identify.json", &files)?;
    for warning in &warnings {
        say::message(&format!("note: {warning}"));
    }
    if shared.json {
        say::document(&document)?;
    } else {
        lines.push(format!("\nFor the scene file:\n{}", block.trim_end()));
        say::result(&lines.join("\n"))?;
    }
    Ok(u8::from(!found.held_out.accepted()))
}

/// An error with the files that it is about.
fn named(error: &IdentifyError, logs: &[PathBuf]) -> String {
    if let IdentifyError::Twice { first, log } = error {
        let [first, log] = [first, log].map(|number| logs[number - 1].display());
        return format!("{first}, {log}: {error}");
    }
    let about = match error {
        IdentifyError::Mixed { log }
        | IdentifyError::MixedSteps { log }
        | IdentifyError::NoMove { log } => &logs[log - 1..*log],
        IdentifyError::Reversed { log: Some(log), .. } => &logs[log - 1..*log],
        _ => logs,
    };
    let name = |path: &PathBuf| path.display().to_string();
    let named: Vec<String> = about.iter().take(MOST_NAMED).map(name).collect();
    let more = about.len() - named.len();
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}: {error}", named.join(", "))
}

fn document(args: &IdentifyArgs, found: &Identified, warnings: &[String], block: &str) -> Issued {
    let warnings = warnings.to_vec();
    issued(Document::Identify(Box::new(IdentifyDocument {
        scene: args.scene.display().to_string(),
        logs: args.logs.iter().map(|path| path.display().to_string()).collect(),
        found: IdentifyLine { warnings, ..IdentifyLine::of(found) },
        block: block.to_owned(),
    })))
}
