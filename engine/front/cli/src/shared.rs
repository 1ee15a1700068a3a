//! What every command takes, and values that several read alike.

use std::path::PathBuf;

use dryturn_guests::{GuestCommand, Invited};
use dryturn_handoff::GuestRole;
use dryturn_units::noise::Seed;

use crate::failure::Failure;

/// What every command takes.
pub(crate) struct Shared {
    pub(crate) json: bool,
    pub(crate) seed: Seed,
    pub(crate) out: Option<PathBuf>,
    /// Whether times of the clock may stand in what is written.
    pub(crate) timings: bool,
}

/// `NAME=VALUE`.
pub(crate) fn setting(text: &str) -> Result<(String, String), String> {
    let parts = text.split_once('=').filter(|(name, _)| !name.is_empty());
    let (name, value) = parts.ok_or_else(|| "must be NAME=VALUE".to_owned())?;
    Ok((name.to_owned(), value.to_owned()))
}

/// The part that a guest plays.
pub(crate) fn role(text: &str) -> Result<GuestRole, String> {
    let names = GuestRole::ALL.map(GuestRole::word).join(", ");
    GuestRole::named(text).ok_or_else(|| format!("must be one of {names}"))
}

/// `ROLE=COMMAND`.
pub(crate) fn guest(text: &str) -> Result<(GuestRole, GuestCommand), String> {
    let Some((name, command)) = text.split_once('=') else {
        return Err("must be ROLE=COMMAND, as in reader=\"python3 my_reader.py\"".to_owned());
    };
    let command = GuestCommand::parse(command).map_err(|error| error.to_string())?;
    Ok((role(name)?, command))
}

/// Who may play, by those named in the call.
///
/// # Errors
/// Two guests for one part.
pub(crate) fn invited(
    guests: &[(GuestRole, GuestCommand)],
    of_scenes: bool,
) -> Result<Invited, Failure> {
    let mut invited = Invited { of_scenes, ..Invited::default() };
    for (role, command) in guests {
        if invited.named.insert(*role, command.clone()).is_some() {
            return Err(Failure::input(format!("--guest {role}: must be given once")));
        }
    }
    Ok(invited)
}

/// `WIDTHxHEIGHT`.
pub(crate) fn size(text: &str) -> Result<[u32; 2], String> {
    let parsed = || {
        let (width, height) = text.split_once('x')?;
        Some([width.parse().ok()?, height.parse().ok()?])
    };
    parsed().ok_or_else(|| "must be WIDTHxHEIGHT, as in 320x240".to_owned())
}

/// A share, 0 to 1.
pub(crate) fn share(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|share| (0.0..=1.0).contains(share));
    value.ok_or_else(|| "must be 0 to 1".to_owned())
}
