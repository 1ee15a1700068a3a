//! What a person types.

use std::path::PathBuf;

use clap::error::{ContextKind, ContextValue};
use clap::{Command, CommandFactory as _, FromArgMatches as _, Parser, Subcommand};
use dryturn_units::noise::Seed;

use crate::commands::calibrate::{self, CalibrateArgs};
use crate::commands::camera::{self, CameraArgs};
use crate::commands::check::{self, CheckArgs};
use crate::commands::drill_axes::{self, DrillAxesArgs};
use crate::commands::follow::{self, FollowArgs};
use crate::commands::frames::{self, FramesArgs};
use crate::commands::guest::{self, GuestArgs};
use crate::commands::identify::{self, IdentifyArgs};
use crate::commands::new::{self, NewArgs};
use crate::commands::overlay::{self, OverlayArgs};
use crate::commands::plan;
use crate::commands::plan::PlanArgs;
use crate::commands::read::{self, ReadArgs};
use crate::commands::rehearse::{self, RehearseArgs};
use crate::commands::schema::{self, SchemaArgs};
use crate::commands::survey::{self, SurveyArgs};
use crate::commands::tables::{self, TablesArgs};
use crate::commands::tune::{self, TuneArgs};
use crate::commands::verbs::{self, VerbsArgs};
use crate::failure::Failure;
use crate::shared::Shared;

/// Rehearses a six-shaft cube-turning rig in simulation: what the cameras see,
/// what is read, what is planned, and what motors and cube make of it.
#[derive(Parser)]
#[command(
    version,
    about,
    max_term_width = 100,
    disable_help_subcommand = true,
    after_help = "\
Exit codes: 0 every expectation held; 1 an expectation failed or a reading was refused; \
2 bad input or usage; 3 our fault; 130 and 143 ended by Ctrl-C and SIGTERM.\n\nA simulated run does not clear hardware to run: read the \
cautions in the report and in README.md."
)]
pub(crate) struct Args {
    #[command(subcommand)]
    command: Verb,

    /// One JSON document on stdout; everything else goes to stderr
    #[arg(long, global = true)]
    json: bool,

    /// The number that everything random follows from
    #[arg(long, global = true, default_value_t = 1, value_name = "N", value_parser = seed)]
    seed: u64,

    /// Worker threads; 0 takes all cores. Results do not depend on it, but for `plan --ms`
    #[arg(long, global = true, default_value_t = 0, value_name = "N",
          value_parser = clap::value_parser!(u16).range(0..=256))]
    threads: u16,

    /// Folder for what is written
    #[arg(long, global = true, value_name = "DIR")]
    out: Option<PathBuf>,

    /// Put how long things took here into documents and pages too; they then differ from run to run
    #[arg(long, global = true)]
    timings: bool,
}

/// What was typed. A number below 0 is a value, which each option then refuses with its range.
pub(crate) fn parse() -> Result<Args, clap::Error> {
    fn with_negative(command: Command) -> Command {
        command
            .mut_args(|arg| {
                let number = arg.get_action().takes_values();
                if number { arg.allow_negative_numbers(true) } else { arg }
            })
            .mut_subcommands(with_negative)
    }
    let matches = with_negative(Args::command()).try_get_matches()?;
    Args::from_arg_matches(&matches)
}

/// The commands, one after the other, for a message.
pub(crate) fn commands() -> String {
    let command = Args::command();
    let names: Vec<&str> = command.get_subcommands().map(Command::get_name).collect();
    match names.split_last() {
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
        None => String::new(),
    }
}

/// Commands by the names that they had, and those that they have.
const RENAMED: [(&str, &str); 1] = [("drill", "drill-axes")];

/// What a command is called now that was typed by a name that it had.
pub(crate) fn renamed(error: &clap::Error) -> Option<String> {
    let Some(ContextValue::String(typed)) = error.get(ContextKind::InvalidSubcommand) else {
        return None;
    };
    let (old, new) = RENAMED.into_iter().find(|(old, _)| old == typed)?;
    Some(format!("the command {old} is now called {new}; see --help"))
}

fn seed(text: &str) -> Result<u64, String> {
    text.parse().map_err(|_| format!("must be a whole number from 0 to {}", u64::MAX))
}

#[derive(Subcommand)]
enum Verb {
    /// Begin a rig of your own: a scene, a script that tests it, a CI workflow
    New(NewArgs),
    /// Run rehearsal scripts; leaves report, ledger and files in the output folder
    Rehearse(RehearseArgs),
    /// Read pictures of a cube, one per camera in the scene's order
    Read(ReadArgs),
    /// Learn what colours look like from pictures of cubes that you know
    Calibrate(CalibrateArgs),
    /// Survey a layout: what each camera sees of each facelet, and how clearly
    Survey(SurveyArgs),
    /// Make a labelled set of pictures in --out; goes on where a killed run stopped
    Frames(FramesArgs),
    /// Plan the turns that solve a state or undo a scramble, or many random states
    Plan(Box<PlanArgs>),
    /// Execute plans many times on the axes alone: how often they fail and why, how long they take
    DrillAxes(DrillAxesArgs),
    /// Follow an exported rig plan by its own cues, many times in simulation
    Follow(FollowArgs),
    /// Tune the axes: the fastest settings that hardly ever fail, proved on fresh trials
    Tune(TuneArgs),
    /// Build the planner's large tables into the cache folder, where they are missing or damaged
    Tables(TablesArgs),
    /// Measure a real camera from its own pictures, and write its block for the scene file
    Camera(CameraArgs),
    /// Fit an axis's inertia, friction and limits from its own logs; before you log one:
    /// bolt the motor down, commission at low current, keep an emergency stop at hand
    Identify(IdentifyArgs),
    /// Lay a logged run over the simulated run of the same plan: how far off, and why
    Overlay(OverlayArgs),
    /// Check scenes (.ron) and scripts (.rhai) without running them
    Check(CheckArgs),
    /// Check a guest: a program of your own in the place of the reader, planner, host or controller
    Guest(GuestArgs),
    /// Print the JSON Schema of something that is written down: a ledger, a document, a file
    Schema(SchemaArgs),
    /// Say what scripts can do: all verbs, or everything about those that a word leads to; --out
    /// takes definitions for editors
    Verbs(VerbsArgs),
}

impl Args {
    pub(crate) fn wants_json(&self) -> bool {
        self.json
    }

    /// Worker threads that are wanted; 0 for all cores.
    pub(crate) fn threads(&self) -> usize {
        usize::from(self.threads)
    }

    /// Most memory that scripts may use, where scripts are run.
    pub(crate) fn script_memory(&self) -> Option<usize> {
        match &self.command {
            Verb::Rehearse(args) => Some(args.allowed.memory),
            _ => None,
        }
    }

    /// Does it; the exit code.
    pub(crate) fn run(self) -> Result<u8, Failure> {
        let shared = Shared {
            json: self.json,
            seed: Seed::new(self.seed),
            out: self.out,
            timings: self.timings,
        };
        match self.command {
            Verb::New(args) => new::run(&args, &shared),
            Verb::Rehearse(args) => rehearse::run(args, &shared),
            Verb::Read(args) => read::run(&args, &shared),
            Verb::Calibrate(args) => calibrate::run(&args, &shared),
            Verb::Survey(args) => survey::run(&args, &shared),
            Verb::Frames(args) => frames::run(&args, &shared),
            Verb::Plan(args) => plan::run(&args, &shared),
            Verb::DrillAxes(args) => drill_axes::run(&args, &shared),
            Verb::Follow(args) => follow::run(&args, &shared),
            Verb::Tune(args) => tune::run(&args, &shared),
            Verb::Tables(args) => tables::run(&args, &shared),
            Verb::Camera(args) => camera::run(&args, &shared),
            Verb::Identify(args) => identify::run(&args, &shared),
            Verb::Overlay(args) => overlay::run(&args, &shared),
            Verb::Check(args) => check::run(&args, &shared),
            Verb::Guest(args) => guest::run(args, &shared),
            Verb::Schema(args) => schema::run(&args, &shared),
            Verb::Verbs(args) => verbs::run(&args, &shared),
        }
    }
}
