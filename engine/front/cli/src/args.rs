//! What a person types, and the request it comes to.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Command, CommandFactory as _, FromArgMatches as _, Parser, Subcommand, ValueEnum};
use dryturn_driving::Ceiling;
use dryturn_planning::DEFAULT_NODE_BUDGET;
use dryturn_script::{Limits, Settings};
use dryturn_studies::COMMISSIONING_CEILING;
use dryturn_units::noise::Seed;

use crate::commands::camera::CameraPart;
use crate::commands::drill::DrillArgs;
use crate::commands::follow::FollowArgs;
use crate::commands::identify::IdentifyArgs;
use crate::commands::overlay::OverlayArgs;
use crate::commands::survey::SurveyRequest;
use crate::commands::tune::TuneArgs;
use crate::host::Allowed;
use crate::known::KnownArgs;

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

fn seed(text: &str) -> Result<u64, String> {
    text.parse().map_err(|_| format!("must be a whole number from 0 to {}", u64::MAX))
}

#[derive(Subcommand)]
enum Verb {
    /// Begin a rig of your own: a scene, a script that tests it, a CI workflow
    New {
        /// A folder that is empty or not there yet
        #[arg(value_name = "DIR")]
        folder: PathBuf,
    },
    /// Run rehearsal scripts; leaves report, ledger and files in the output folder
    Rehearse {
        /// Script files (.rhai)
        #[arg(required = true, value_name = "SCRIPT")]
        scripts: Vec<PathBuf>,
        /// A value that the scripts ask for by name; repeat the option for more
        #[arg(long = "set", value_name = "NAME=VALUE", value_parser = setting)]
        settings: Vec<(String, String)>,
        #[command(flatten)]
        allowed: AllowedArgs,
    },
    /// Read pictures of a cube, one per camera in the scene's order
    Read(ReadArgs),
    /// Learn what colours look like from pictures of cubes that you know
    Calibrate(CalibrateArgs),
    /// Survey a layout: what each camera sees of each facelet, and how clearly
    Survey {
        /// The scene
        #[arg(value_name = "SCENE")]
        scene: PathBuf,
        /// Another layout to compare it with
        #[arg(long, value_name = "SCENE")]
        against: Option<PathBuf>,
        /// Rigs to build with the scene's mount errors, to see which facelets are lost
        #[arg(long, default_value_t = 200, value_name = "N",
              value_parser = clap::value_parser!(u32).range(0..=100_000))]
        draws: u32,
    },
    /// Make a labelled set of pictures in --out; goes on where a killed run stopped
    Frames(FramesArgs),
    /// Plan the turns that solve a state or undo a scramble, or many random states
    Plan(PlanArgs),
    /// Execute plans many times on the axes alone: how often they fail and why, how long they take
    Drill(DrillArgs),
    /// Follow an exported rig plan by its own cues, many times in simulation
    Follow(FollowArgs),
    /// Tune the axes: the fastest settings that hardly ever fail, proved on fresh trials
    Tune(TuneArgs),
    /// Build the planner's large tables into the cache folder, where they are missing or damaged
    Tables {
        /// Check every page of the tables that are there; build nothing
        #[arg(long)]
        check: bool,
        /// Folder of the tables, instead of the user's cache folder
        #[arg(long, value_name = "DIR")]
        cache: Option<PathBuf>,
    },
    /// Measure a real camera from its own pictures, and write its block for the scene file
    Camera {
        #[command(subcommand)]
        part: CameraPart,
    },
    /// Fit an axis's inertia, friction and limits from its own logs; before you log one:
    /// bolt the motor down, commission at low current, keep an emergency stop at hand
    Identify(IdentifyArgs),
    /// Lay a logged run over the simulated run of the same plan: how far off, and why
    Overlay(OverlayArgs),
    /// Check scenes (.ron) and scripts (.rhai) without running them
    Check {
        /// Files
        #[arg(required = true, value_name = "SCENE-or-SCRIPT")]
        files: Vec<PathBuf>,
        /// End with 1 where a scene that can be run is strange
        #[arg(long)]
        strict: bool,
    },
}

/// What scripts may do.
#[derive(clap::Args)]
struct AllowedArgs {
    /// Most memory that the program may use for a script, 64MB to 1000GB; there is at most one
    /// worker thread for each 30 MB of it
    #[arg(long, default_value = "1GB", value_name = "SIZE", value_parser = memory)]
    memory: usize,

    /// Longest time of a script, seconds, 1 to 86400
    #[arg(long, default_value_t = 600, value_name = "S",
          value_parser = clap::value_parser!(u64).range(1..=86_400))]
    timeout: u64,

    /// Folder below which scripts read scenes and tables; unless given, the nearest one above the
    /// script that holds a folder `scenes`, else the script's own
    #[arg(long, value_name = "DIR")]
    root: Option<PathBuf>,

    /// Let a script pass that expects nothing
    #[arg(long)]
    allow_none: bool,
}

impl AllowedArgs {
    fn resolve(self) -> Allowed {
        let limits = Limits {
            memory_bytes: self.memory,
            timeout: Duration::from_secs(self.timeout),
            allow_none: self.allow_none,
        };
        Allowed { limits, root: self.root }
    }
}

/// A size in MB or GB, of a thousand each.
fn memory(text: &str) -> Result<usize, String> {
    let parsed = || {
        let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
        let (number, unit) = text.split_at(digits);
        let bytes = match unit.to_ascii_uppercase().as_str() {
            "MB" => 1_000_000,
            "GB" => 1_000_000_000,
            _ => return None,
        };
        let size = number.parse::<usize>().ok()?.checked_mul(bytes)?;
        (64_000_000..=1_000_000_000_000).contains(&size).then_some(size)
    };
    parsed().ok_or_else(|| "must be 64MB to 1000GB, as in 256MB or 2GB".to_owned())
}

/// What `read` takes.
#[derive(clap::Args)]
pub(crate) struct ReadArgs {
    /// The scene that the pictures were taken in
    #[arg(long, value_name = "SCENE")]
    pub(crate) scene: PathBuf,

    /// A stored calibration (RON), as `calibrate` and `save_calibration` write it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["solved", "known", "set", "patches"])]
    pub(crate) calibration: Option<PathBuf>,

    #[command(flatten)]
    pub(crate) from: KnownArgs,

    /// Size of the pictures, instead of the scene's: so many pixels on the same sensor
    #[arg(long, value_name = "WxH", value_parser = size)]
    pub(crate) size: Option<[u32; 2]>,

    /// Pictures, PNG or JPEG: one of each camera; several such sets of one cube are read together
    #[arg(required = true, value_name = "PICTURE")]
    pub(crate) pictures: Vec<PathBuf>,
}

/// What `calibrate` takes.
#[derive(clap::Args)]
pub(crate) struct CalibrateArgs {
    /// The scene that the pictures were taken in
    #[arg(long, value_name = "SCENE")]
    pub(crate) scene: PathBuf,

    #[command(flatten)]
    pub(crate) from: KnownArgs,

    /// Size of the pictures, instead of the scene's: so many pixels on the same sensor
    #[arg(long, value_name = "WxH", value_parser = size)]
    pub(crate) size: Option<[u32; 2]>,
}

/// What `frames` takes.
#[derive(clap::Args)]
pub(crate) struct FramesArgs {
    /// The scene
    #[arg(value_name = "SCENE")]
    pub(crate) scene: PathBuf,

    /// Scans to make; each gives the pictures of every camera
    #[arg(long, default_value_t = 100, value_name = "N",
          value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) scans: u32,

    /// Size of the pictures, instead of the scene's: so many pixels on the same sensor
    #[arg(long, value_name = "WxH", value_parser = size)]
    pub(crate) size: Option<[u32; 2]>,

    /// Rays a pixel, instead of the scene's: 1, 4, 16, 64, 256 or 1024
    #[arg(long, value_name = "N")]
    pub(crate) samples: Option<u32>,

    /// What to draw anew for each scan, evenly: FIELD=LOW..HIGH or FIELD=A,B,…, as in
    /// 'lamps.*.flux_lm=x0.5..x1.5' (one factor for all) or lamps.upper.spectrum=LedB1,LedB3;
    /// repeat the option for more. Mounts, facelets and noise vary by the scene's own tolerances
    #[arg(long, value_name = "FIELD=VALUES")]
    pub(crate) vary: Vec<String>,

    /// Share of the scans with one face part-turned, by up to 45 degrees either way
    #[arg(long, default_value_t = 0.0, value_name = "SHARE", value_parser = share)]
    pub(crate) turned_share: f64,

    /// Share of the scrambles that are kept for validation
    #[arg(long, default_value_t = 0.2, value_name = "SHARE", value_parser = share)]
    pub(crate) validation_share: f64,

    /// Different scrambles; as many as scans unless given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) scrambles: Option<u32>,
}

pub(crate) fn setting(text: &str) -> Result<(String, String), String> {
    let parts = text.split_once('=').filter(|(name, _)| !name.is_empty());
    let (name, value) = parts.ok_or_else(|| "must be NAME=VALUE".to_owned())?;
    Ok((name.to_owned(), value.to_owned()))
}

fn size(text: &str) -> Result<[u32; 2], String> {
    let parsed = || {
        let (width, height) = text.split_once('x')?;
        Some([width.parse().ok()?, height.parse().ok()?])
    };
    parsed().ok_or_else(|| "must be WIDTHxHEIGHT, as in 320x240".to_owned())
}

fn share(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|share| (0.0..=1.0).contains(share));
    value.ok_or_else(|| "must be 0 to 1".to_owned())
}

/// What a plan shall have least of.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ObjectiveArg {
    /// Turns, half turns as one
    Turns,
    /// Machine time, over beats
    Time,
}

/// Which tables may serve.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum TablesArg {
    /// Large ones where they are there, else compact ones
    Auto,
    /// Compact ones: the same plan on every machine
    Compact,
    /// Large ones; an error where they are not there
    Large,
}

/// What `plan` takes.
#[derive(clap::Args)]
pub(crate) struct PlanArgs {
    /// Turns in WCA notation (R U2 F'), six named faces (U=UUU/UUU/UUU R=… F=… D=… L=… B=…), or a
    /// file that holds either or a state in RON
    #[arg(required_unless_present = "random", value_name = "STATE-or-SCRAMBLE")]
    pub(crate) cube: Vec<String>,

    /// Plan so many random states and print how the plans are spread
    #[arg(long, value_name = "N", conflicts_with_all = ["cube", "prove", "for_rig"],
          value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) random: Option<u32>,

    /// What the plan shall have least of
    #[arg(long, value_enum, default_value_t = ObjectiveArg::Time)]
    pub(crate) objective: ObjectiveArg,

    /// Search nodes to spend; the result can be repeated
    #[arg(long, default_value_t = DEFAULT_NODE_BUDGET, value_name = "N",
          value_parser = clap::value_parser!(u64).range(1..=100_000_000_000))]
    pub(crate) nodes: u64,

    /// Milliseconds to spend instead: what is found depends on the machine
    #[arg(long, value_name = "M", conflicts_with_all = ["nodes", "prove"],
          value_parser = clap::value_parser!(u64).range(1..=3_600_000))]
    pub(crate) ms: Option<u64>,

    /// Time of a half turn in quarter turns, 1 to 2
    #[arg(long, default_value_t = 1.5, value_name = "RATIO", value_parser = half)]
    pub(crate) half: f64,

    /// Scene whose drive gives the times instead
    #[arg(long, value_name = "SCENE", conflicts_with = "half")]
    pub(crate) scene: Option<PathBuf>,

    /// Prove that no plan is better, within the nodes, or say how far it was proved
    #[arg(long)]
    pub(crate) prove: bool,

    /// Which tables may bound the search
    #[arg(long, value_enum, default_value_t = TablesArg::Auto)]
    pub(crate) tables: TablesArg,

    /// Folder of the large tables, instead of the user's cache folder; nobody may change its
    /// files meanwhile
    #[arg(long, value_name = "DIR")]
    pub(crate) cache: Option<PathBuf>,

    /// Write rig-plan.csv and .json, rig-plan-drive.h and a follower in C for a firmware to --out;
    /// refused where one of 300 simulated executions at the ceiling fails
    #[arg(long, requires_all = ["scene", "out"])]
    pub(crate) for_rig: bool,

    /// With --for-rig: share of the torque above friction that the rig may use, 0.01 to 1. It is
    /// planned, simulated and timed at that ceiling
    #[arg(long, default_value_t = COMMISSIONING_CEILING, value_name = "SHARE", requires = "for_rig",
          value_parser = ceiling)]
    pub(crate) ceiling: f64,

    /// With --for-rig: write it even where it is refused. Unsafe
    #[arg(long, requires = "for_rig")]
    pub(crate) unsafe_export: bool,
}

fn half(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|ratio| (1.0..=2.0).contains(ratio));
    value.ok_or_else(|| "must be 1 to 2".to_owned())
}

fn ceiling(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|share| (Ceiling::LEAST_SHARE..=1.0).contains(share));
    value.ok_or_else(|| format!("must be {} to 1", Ceiling::LEAST_SHARE))
}

/// What to do.
pub(crate) enum Request {
    /// Begin a project.
    New {
        /// Where.
        folder: PathBuf,
    },
    /// Run scripts.
    Rehearse {
        /// Script files.
        scripts: Vec<PathBuf>,
        /// What they may ask for.
        settings: Settings,
        /// What they may do.
        allowed: Allowed,
    },
    /// Read pictures.
    Read(ReadArgs),
    /// Calibrate.
    Calibrate(CalibrateArgs),
    /// Survey a layout.
    Survey(SurveyRequest),
    /// Make a labelled set.
    Frames(FramesArgs),
    /// Plan.
    Plan(PlanArgs),
    /// Drill the axes.
    Drill(DrillArgs),
    /// Follow a rig plan.
    Follow(FollowArgs),
    /// Tune them.
    Tune(TuneArgs),
    /// Build or check large tables.
    Tables {
        /// Check only.
        check: bool,
        /// Where they are.
        cache: Option<PathBuf>,
    },
    /// Measure a camera.
    Camera(CameraPart),
    /// Measure an axis.
    Identify(IdentifyArgs),
    /// Lay a log over a run.
    Overlay(OverlayArgs),
    /// Check files.
    Check {
        /// Scenes and scripts.
        files: Vec<PathBuf>,
        /// Whether findings count as failures.
        strict: bool,
    },
}

/// What every command takes.
pub(crate) struct Shared {
    pub(crate) json: bool,
    pub(crate) seed: Seed,
    /// 0 takes all cores.
    pub(crate) threads: usize,
    pub(crate) out: Option<PathBuf>,
    /// Whether times of the clock may stand in what is written.
    pub(crate) timings: bool,
}

impl Args {
    pub(crate) fn wants_json(&self) -> bool {
        self.json
    }

    pub(crate) fn resolve(self) -> (Request, Shared) {
        let request = match self.command {
            Verb::New { folder } => Request::New { folder },
            Verb::Rehearse { scripts, settings, allowed } => Request::Rehearse {
                scripts,
                settings: settings.into_iter().collect(),
                allowed: allowed.resolve(),
            },
            Verb::Read(read) => Request::Read(read),
            Verb::Calibrate(calibrate) => Request::Calibrate(calibrate),
            Verb::Survey { scene, against, draws } => {
                Request::Survey(SurveyRequest { scene, against, draws: draws as usize })
            }
            Verb::Frames(frames) => Request::Frames(frames),
            Verb::Plan(plan) => Request::Plan(plan),
            Verb::Drill(drill) => Request::Drill(drill),
            Verb::Follow(follow) => Request::Follow(follow),
            Verb::Tune(tune) => Request::Tune(tune),
            Verb::Tables { check, cache } => Request::Tables { check, cache },
            Verb::Camera { part } => Request::Camera(part),
            Verb::Identify(args) => Request::Identify(args),
            Verb::Overlay(args) => Request::Overlay(args),
            Verb::Check { files, strict } => Request::Check { files, strict },
        };
        let shared = Shared {
            json: self.json,
            seed: Seed::new(self.seed),
            threads: usize::from(self.threads),
            out: self.out,
            timings: self.timings,
        };
        (request, shared)
    }
}
