//! What a person types.

use std::path::PathBuf;

use clap::{Parser, ValueEnum};

/// The question that the window answers at the moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Question {
    /// What do the cameras see?
    See,
    /// What was read?
    Read,
    /// What was planned?
    Plan,
    /// What happened?
    Happen,
}

impl Question {
    pub(crate) const ALL: [Self; 4] = [Self::See, Self::Read, Self::Plan, Self::Happen];

    /// As a person asks it.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::See => "What do the cameras see?",
            Self::Read => "What was read?",
            Self::Plan => "What was planned?",
            Self::Happen => "What happened?",
        }
    }
}

/// Shows the rig in 3D with what its cameras see, and plays rehearsals.
#[derive(Clone, Debug, Parser)]
#[command(
    version,
    about,
    after_help = "\
A simulated run does not clear hardware to run: read the cautions in the window and in README.md."
)]
pub(crate) struct Args {
    /// Scene to open
    #[arg(long, default_value = "scenes/foyer_morning.ron", value_name = "SCENE")]
    pub(crate) scene: PathBuf,

    /// Script to run at once
    #[arg(long, value_name = "SCRIPT")]
    pub(crate) script: Option<PathBuf>,

    /// The number that everything random follows from
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub(crate) seed: u64,

    /// Write one picture of the window, drawn offscreen, and end
    #[arg(long, value_name = "PNG")]
    pub(crate) picture: Option<PathBuf>,

    /// With --picture: where in the run, ms from its start
    #[arg(long, default_value_t = 0.0, value_name = "T", value_parser = milliseconds,
        requires = "picture")]
    pub(crate) at_ms: f64,

    /// Which question is answered
    #[arg(long, value_enum, default_value_t = Question::See, value_name = "NAME")]
    pub(crate) view: Question,

    /// With --picture: size of the picture in pixels
    #[arg(long, default_value = "1280x800", value_name = "WxH", value_parser = size,
        requires = "picture")]
    pub(crate) size: (u32, u32),

    /// Go through the whole window without a person, leave pictures and figures
    /// in a folder, and end: code 0 if all was as it must be
    #[arg(long, value_name = "DIR", conflicts_with = "picture")]
    pub(crate) inspect: Option<PathBuf>,
}

fn milliseconds(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|t| (0.0..=600_000.0).contains(t));
    value.ok_or_else(|| "must be 0 to 600000".to_owned())
}

fn size(text: &str) -> Result<(u32, u32), String> {
    let parse = |side: &str| side.parse().ok().filter(|n| (320..=7680).contains(n));
    text.split_once('x')
        .and_then(|(w, h)| Some((parse(w)?, parse(h)?)))
        .ok_or_else(|| "must be WIDTHxHEIGHT, each 320 to 7680".to_owned())
}
