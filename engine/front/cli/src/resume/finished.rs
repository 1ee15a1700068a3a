//! What a suite of scripts had finished when it was broken off, so that the next call of it
//! goes on from there.
//!
//! Each script's output folder keeps a hidden, sealed record while its suite is not done. It
//! holds only for what it was made of: the program's own bytes, script, seed, settings, limits,
//! every file that the script read, and the files that it left. Whatever differs is run again.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use dryturn_record::digest;
use dryturn_record::documents::ScriptResult;
use dryturn_script::{Host as _, Settings};
use serde::{Deserialize, Serialize};

use super::{program, sealed, unsealed};
use crate::failure::Failure;
use crate::host::{Allowed, TerminalHost};
use crate::output::OutputFolder;
use crate::say;

/// The hidden folder of a record.
const FOLDER: &str = ".dryturn-finished";
const FILE: &str = ".dryturn-finished/script";

/// What a script's results follow from, but for the files that it reads.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Request {
    program_sha256: String,
    script: String,
    script_sha256: String,
    seed: u64,
    settings: Settings,
    /// As text: what a script may do is no part of any format.
    allowed: String,
}

impl Request {
    /// `None` where the program does not know itself: nothing is kept then.
    pub(crate) fn of(script: &Path, text: &str, seed: u64, settings: &Settings) -> Option<Self> {
        Some(Self {
            program_sha256: program::sha256()?.to_owned(),
            script: script.display().to_string(),
            script_sha256: digest(text.as_bytes()),
            seed,
            settings: settings.clone(),
            allowed: format!("{:?}", Allowed::now()),
        })
    }
}

/// A script that is done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Finished {
    request: Request,
    /// What it read, or could not read, by the path that it gave.
    read: BTreeMap<String, String>,
    /// What it left: digests by name.
    left: BTreeMap<String, String>,
    pub(crate) result: ScriptResult,
    pub(crate) unused_settings: BTreeSet<String>,
}

/// Whether files are as they were left.
fn are_there(folder: &OutputFolder, left: &BTreeMap<String, String>) -> Result<bool, Failure> {
    for (name, hash) in left {
        if folder.read(name)?.is_none_or(|bytes| digest(&bytes) != *hash) {
            return Ok(false);
        }
    }
    Ok(true)
}

impl Finished {
    /// Keeps what came of a script, after its files are in their places. A script that read too
    /// much to be noted is not kept.
    pub(crate) fn keep(
        request: Request,
        host: &TerminalHost,
        folder: &OutputFolder,
        (result, unused_settings): (&ScriptResult, &BTreeSet<String>),
    ) -> Result<(), Failure> {
        let Some(read) = host.read_so_far() else { return Ok(()) };
        let finished = Self {
            request,
            read,
            left: folder.written(),
            result: result.clone(),
            unused_settings: unused_settings.clone(),
        };
        let text = serde_json::to_vec(&finished).map_err(Failure::ours)?;
        folder.keep(FILE, &sealed(&text), true)
    }

    /// What an ended call with this output folder left of a script; `None` where there is
    /// nothing, or something that it followed from is not as it was, which is said.
    pub(crate) fn recall(
        request: &Request,
        host: &TerminalHost,
        folder: &OutputFolder,
    ) -> Result<Option<Self>, Failure> {
        let Some(found) = folder.read(FILE)? else { return Ok(None) };
        let holds = Self::holding(&found, request, host, folder)?;
        if holds.is_none() {
            say::message(&format!(
                "{}: was finished in a call that was ended, but what its results follow from has \
                 changed since, or they have: it is run again",
                request.script
            ));
        }
        Ok(holds)
    }

    fn holding(
        found: &[u8],
        request: &Request,
        host: &TerminalHost,
        folder: &OutputFolder,
    ) -> Result<Option<Self>, Failure> {
        let parsed = unsealed(found).and_then(|text| serde_json::from_slice::<Self>(text).ok());
        let Some(finished) = parsed.filter(|finished| finished.request == *request) else {
            return Ok(None);
        };
        let same = |(path, before): (&String, &String)| {
            TerminalHost::told(&host.read_text(path)) == *before
        };
        if !finished.read.iter().all(same) {
            return Ok(None);
        }
        // The folder may be called something else by now.
        let result = ScriptResult {
            out: Some(folder.root().display().to_string()),
            ..finished.result.clone()
        };
        Ok(are_there(folder, &finished.left)?.then_some(Self { result, ..finished }))
    }

    /// Nothing of an ended call is left to go on from.
    pub(crate) fn forget(folder: &OutputFolder) -> Result<(), Failure> {
        folder.remove_own(FOLDER)
    }
}
