//! What `plan` takes.

use std::path::PathBuf;

use clap::ValueEnum;
use dryturn_driving::Ceiling;
use dryturn_planning::DEFAULT_NODE_BUDGET;
use dryturn_studies::COMMISSIONING_CEILING;

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
