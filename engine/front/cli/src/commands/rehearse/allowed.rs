//! What scripts may do.

use std::path::PathBuf;
use std::time::Duration;

use dryturn_guests::GuestCommand;
use dryturn_handoff::GuestRole;
use dryturn_script::Limits;

use crate::failure::Failure;
use crate::host::Allowed;
use crate::shared::{guest, invited};

/// What scripts may do.
#[derive(clap::Args)]
pub(crate) struct AllowedArgs {
    /// Most memory that the program may use for a script, 64MB to 1000GB; there is at most one
    /// worker thread for each 30 MB of it
    #[arg(long, default_value = "1GB", value_name = "SIZE", value_parser = memory)]
    pub(crate) memory: usize,

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

    /// A program of your own that plays a part in every rehearsal: reader, planner, host or
    /// controller. The command is split into words as by a shell, which does not run. Repeat the
    /// option for more
    #[arg(long = "guest", value_name = "ROLE=COMMAND", value_parser = guest)]
    guests: Vec<(GuestRole, GuestCommand)>,

    /// Let the scenes' own guests play: programs that they name, which run with your rights,
    /// outside every limit of scripts
    #[arg(long)]
    allow_guests: bool,
}

impl AllowedArgs {
    /// What is allowed then.
    ///
    /// # Errors
    /// Two guests for one part.
    pub(crate) fn resolve(self) -> Result<Allowed, Failure> {
        let limits = Limits {
            memory_bytes: self.memory,
            timeout: Duration::from_secs(self.timeout),
            allow_none: self.allow_none,
        };
        let invited = invited(&self.guests, self.allow_guests)?;
        Ok(Allowed { limits, root: self.root, invited })
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
