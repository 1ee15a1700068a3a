//! `dryturn guest check ROLE COMMAND…`: what is wrong with a guest, before any rehearsal.

use dryturn_handoff::GuestRole;
use std::path::PathBuf;
use std::sync::Arc;

use clap::{Args, Subcommand};
use dryturn_cube::Stickering;
use dryturn_guests::check::{Pictures, check};
use dryturn_guests::{GuestCommand, Limits, declared};
use dryturn_record::documents::{Document, GuestDocument};
use dryturn_rehearsal::Rehearser;
use dryturn_scene::{Scene, starter};
use dryturn_units::stop::Stop;

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::shared::{Shared, role};
use crate::{input, say, stop};

/// Cubes that a reader is shown.
const SCANS: u64 = 2;
/// Size of the pictures where no scene is given.
const SMALL_PX: [u32; 2] = [320, 240];

/// What `guest` takes.
#[derive(Args)]
pub(crate) struct GuestArgs {
    #[command(subcommand)]
    part: GuestPart,
}

/// What to do with a guest.
#[derive(Subcommand)]
enum GuestPart {
    /// Ask a guest a fixed series of questions, and say what is wrong with its answers
    Check(GuestCheckArgs),
}

/// What `guest check` takes.
#[derive(Args)]
struct GuestCheckArgs {
    /// Scene whose pictures a reader is shown, and whose limits hold; unless given, a rig with two
    /// cameras of 320 by 240 pixels
    #[arg(long, value_name = "SCENE")]
    scene: Option<PathBuf>,
    /// reader, planner, host or controller
    #[arg(value_name = "ROLE", value_parser = role)]
    role: GuestRole,
    /// The program and its arguments, word by word; options of dryturn come before the role
    #[arg(
        required = true,
        trailing_var_arg = true,
        allow_hyphen_values = true,
        value_name = "COMMAND"
    )]
    command: Vec<String>,
}

pub(crate) fn run(args: GuestArgs, shared: &Shared) -> Result<u8, Failure> {
    let GuestPart::Check(args) = args.part;
    let out = Out::open(shared, &["guest.json"])?;
    let command = GuestCommand::of_words(args.command).map_err(Failure::input)?;
    let scene = Arc::new(match &args.scene {
        Some(path) => input::scene(path)?,
        None => starter().with_pixels(SMALL_PX).map_err(Failure::ours)?,
    });
    let limits = Limits::of_scene(declared(&scene.file().guests, args.role));
    let work = || {
        let pictures = match args.role {
            GuestRole::Reader => pictures(&scene, shared),
            _ => Pictures::default(),
        };
        check(args.role, &command, limits, &pictures)
    };
    let watched = Stop::new(|_| stop::requested().is_some()).watch(work);
    let findings = watched.map_err(|_| Failure::broken_off("nothing is kept"))?;
    let exit_code = u8::from(!findings.findings.is_empty());
    if !shared.json {
        let name = findings.guest.as_deref().unwrap_or("it did not say its name");
        let (asked, wrong) = (findings.asked.len(), findings.findings.len());
        let sum = match wrong {
            0 => "fine".to_owned(),
            1 => "1 finding".to_owned(),
            more => format!("{more} findings"),
        };
        say::result(&format!("{} ({name}): {sum}; {asked} questions", args.role))?;
        for finding in &findings.findings {
            say::result(&format!(
                "  {}: {}; may be: {}",
                finding.asked, finding.wrong, finding.allowed
            ))?;
            finding
                .stderr_tail
                .iter()
                .try_for_each(|line| say::result(&format!("    | {line}")))?;
        }
    }
    let document = issued(Document::Guest(GuestDocument { exit_code, check: findings }));
    out.keep(&document, "guest.json")?;
    if shared.json {
        say::document(&document)?;
    }
    Ok(exit_code)
}

/// A solved cube mounted six ways to learn from, and random cubes to read, on a rig built by the
/// drawing.
fn pictures(scene: &Arc<Scene>, shared: &Shared) -> Pictures {
    let rehearser = Rehearser::new(shared.seed);
    let rig = rehearser.build(scene, 0);
    let calibration = rig.scan_solved().collect();
    let scans = (0..SCANS).map(|trial| {
        let cube = rehearser.random_cube(trial);
        (cube, rig.scan_unlabelled(&Stickering::from(&cube)).frames)
    });
    let scans = scans.collect();
    Pictures { scene: Some(scene.clone()), calibration, scans }
}
