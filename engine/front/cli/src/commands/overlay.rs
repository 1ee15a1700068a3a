//! `dryturn overlay SCENE LOG --plan …`: a logged run over the simulated one.

use std::path::PathBuf;
use std::sync::Arc;

use dryturn_cube::notation;
use dryturn_handoff::Plan;
use dryturn_record::documents::{Document, OverlayDocument};
use dryturn_record::ledger::OverlayLine;
use dryturn_record::{Exhibit, ShownOverlay};
use dryturn_report::logs_page;
use dryturn_studies::motor::run_log;
use dryturn_studies::overlay::Overlay;
use dryturn_studies::{CAUTIONS, overlay_words};

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::shared::Shared;
use crate::{input, say};

/// What `overlay` takes.
#[derive(clap::Args)]
pub(crate) struct OverlayArgs {
    /// The scene that the rig is drawn in
    #[arg(value_name = "SCENE")]
    scene: PathBuf,

    /// Log of the run (CSV): time_s,angle_U_deg,…,angle_B_deg and, where they were logged,
    /// current_U_a,…,current_B_a
    #[arg(value_name = "LOG")]
    log: PathBuf,

    /// What was turned, in WCA notation
    #[arg(long, value_name = "NOTATION")]
    plan: String,
}

pub(crate) fn run(args: &OverlayArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["overlay.json", "overlay.html"])?;
    let scene = Arc::new(input::scene(&args.scene)?);
    let turns =
        notation::parse(&args.plan).map_err(|error| Failure::input(format!("--plan: {error}")))?;
    let plan = Arc::new(Plan::of_turns(&turns));
    let shown = args.log.display();
    let fault = |error: &dyn core::fmt::Display| Failure::input(format!("{shown}: {error}"));
    let log = run_log(&input::log(&args.log)?, &plan).map_err(|error| fault(&error))?;
    let overlay = Overlay::of(&scene, &plan, &Arc::new(log)).map_err(|error| fault(&error))?;
    let overlay = Arc::new(overlay);
    let document = issued(Document::Overlay(Box::new(OverlayDocument {
        file: args.scene.display().to_string(),
        log: args.log.display().to_string(),
        cautions: CAUTIONS.map(str::to_owned).to_vec(),
        overlay: OverlayLine::of(&overlay),
    })));
    let title = scene.file().name.clone();
    let exhibit = Exhibit::Overlay(Arc::new(ShownOverlay { title, overlay: overlay.clone() }));
    let page = logs_page("A logged run over the simulated one.", &[exhibit]);
    out.keep_all(&document, "overlay.json", &[("overlay.html", page)])?;
    if shared.json {
        say::document(&document)?;
    } else {
        // What is told may send somebody to a rig whose parts move fast.
        let cautions = CAUTIONS.iter().map(|caution| format!("CAUTION: {caution}"));
        let lines: Vec<String> = overlay_words(&overlay).into_iter().chain(cautions).collect();
        say::result(&lines.join("\n"))?;
    }
    Ok(0)
}
