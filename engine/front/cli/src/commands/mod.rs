//! One file a command.

use serde_json::Value as Json;

use crate::args::Shared;
use crate::failure::Failure;
use crate::output::{Earlier, OutputFolder};

pub(crate) mod calibrate;
pub(crate) mod camera;
mod camera_lens;
mod camera_mount;
mod camera_sensor;
pub(crate) mod check;
pub(crate) mod drill;
mod drill_table;
pub(crate) mod follow;
pub(crate) mod frames;
pub(crate) mod identify;
pub(crate) mod new;
pub(crate) mod overlay;
pub(crate) mod plan;
pub(crate) mod plan_many;
pub(crate) mod read;
pub(crate) mod rehearse;
pub(crate) mod survey;
pub(crate) mod tables;
pub(crate) mod tune;

/// Where a command has been told to write, its document goes there too, with other
/// files beside it.
pub(crate) fn keep_all(
    document: &Json,
    name: &str,
    others: &[(&str, String)],
    shared: &Shared,
) -> Result<(), Failure> {
    let Some(root) = &shared.out else { return Ok(()) };
    let mut folder = OutputFolder::open(root)?;
    folder.write(name, format!("{document:#}\n").as_bytes())?;
    others.iter().try_for_each(|(name, text)| folder.write(name, text.as_bytes()))?;
    folder.commit(Earlier::Keep)
}

/// The document alone.
pub(crate) fn keep(document: &Json, name: &str, shared: &Shared) -> Result<(), Failure> {
    keep_all(document, name, &[], shared)
}
