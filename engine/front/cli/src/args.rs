//! What a person types, and the request it comes to.

use std::path::PathBuf;

use clap::{Parser, Subcommand};
use dryturn_units::noise::Seed;

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
2 bad input or usage; 3 our fault.\n\nA simulated run does not clear hardware to run: read the \
cautions in the report and in README.md."
)]
pub(crate) struct Args {
    #[command(subcommand)]
    command: Command,

    /// One JSON document on stdout; everything else goes to stderr
    #[arg(long, global = true)]
    json: bool,

    /// The number that everything random follows from
    #[arg(long, global = true, default_value_t = 1, value_name = "N", value_parser = seed)]
    seed: u64,

    /// Worker threads; 0 takes all cores. Results do not depend on it
    #[arg(long, global = true, default_value_t = 0, value_name = "N",
          value_parser = clap::value_parser!(u16).range(0..=256))]
    threads: u16,

    /// Folder for what is written
    #[arg(long, global = true, value_name = "DIR")]
    out: Option<PathBuf>,
}

fn seed(text: &str) -> Result<u64, String> {
    text.parse().map_err(|_| format!("must be a whole number from 0 to {}", u64::MAX))
}

#[derive(Subcommand)]
enum Command {
    /// Run rehearsal scripts; leaves report, ledger and files in the output folder
    Rehearse {
        /// Script files (.rhai)
        #[arg(required = true, value_name = "SCRIPT")]
        scripts: Vec<PathBuf>,
    },
    /// Read pictures of a cube, one per camera in the scene's order
    Read {
        /// The scene that the pictures were taken in
        #[arg(long, value_name = "SCENE")]
        scene: PathBuf,
        /// A stored calibration (RON), as `save_calibration` writes it
        #[arg(long, value_name = "FILE", conflicts_with = "solved")]
        calibration: Option<PathBuf>,
        /// Calibrate on pictures of a solved cube: repeat the option, one picture per camera, for
        /// one mounting or for all six in the order of engine/front/cli/README.md
        #[arg(long, value_name = "PICTURE")]
        solved: Vec<PathBuf>,
        /// Pictures, PNG or JPEG
        #[arg(required = true, value_name = "PICTURE")]
        pictures: Vec<PathBuf>,
    },
    /// Plan the turns that solve a state or undo a scramble
    Plan {
        /// Turns in WCA notation (R U2 F'), six named faces (U=UUU/UUU/UUU R=… F=… D=… L=… B=…),
        /// or a file that holds either
        #[arg(required = true, value_name = "STATE-or-SCRAMBLE")]
        cube: Vec<String>,
        /// Search nodes to spend on a shorter plan
        #[arg(long, default_value_t = 400_000, value_name = "N",
              value_parser = clap::value_parser!(u64).range(1..=1_000_000_000))]
        nodes: u64,
    },
    /// Check scenes (.ron) and scripts (.rhai) without running them
    Check {
        /// Files
        #[arg(required = true, value_name = "SCENE-or-SCRIPT")]
        files: Vec<PathBuf>,
    },
}

/// What to do.
pub(crate) enum Request {
    /// Run scripts.
    Rehearse {
        /// Script files.
        scripts: Vec<PathBuf>,
    },
    /// Read pictures.
    Read(ReadRequest),
    /// Plan.
    Plan {
        /// The words that name a state.
        cube: String,
        /// Search nodes.
        nodes: u64,
    },
    /// Check files.
    Check {
        /// Scenes and scripts.
        files: Vec<PathBuf>,
    },
}

/// Pictures to read and how to calibrate.
pub(crate) struct ReadRequest {
    pub(crate) scene: PathBuf,
    pub(crate) calibration: Option<PathBuf>,
    pub(crate) solved: Vec<PathBuf>,
    pub(crate) pictures: Vec<PathBuf>,
}

/// What every command takes.
pub(crate) struct Shared {
    pub(crate) json: bool,
    pub(crate) seed: Seed,
    /// 0 takes all cores.
    pub(crate) threads: usize,
    pub(crate) out: Option<PathBuf>,
}

impl Args {
    pub(crate) fn wants_json(&self) -> bool {
        self.json
    }

    pub(crate) fn resolve(self) -> (Request, Shared) {
        let request = match self.command {
            Command::Rehearse { scripts } => Request::Rehearse { scripts },
            Command::Read { scene, calibration, solved, pictures } => {
                Request::Read(ReadRequest { scene, calibration, solved, pictures })
            }
            Command::Plan { cube, nodes } => Request::Plan { cube: cube.join(" "), nodes },
            Command::Check { files } => Request::Check { files },
        };
        let shared = Shared {
            json: self.json,
            seed: Seed::new(self.seed),
            threads: usize::from(self.threads),
            out: self.out,
        };
        (request, shared)
    }
}
