//! What can be known of scripts before the first of them runs.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use dryturn_script::{Host as _, Settings};

use super::results::Results;
use crate::failure::Failure;
use crate::host::TerminalHost;
use crate::input;

/// The scripts' texts, where nothing is wrong that can be known before they run; else the
/// results say what is.
pub(super) fn foreseen(
    scripts: &[PathBuf],
    settings: &Settings,
    results: &mut Results<'_>,
) -> Result<Option<Vec<String>>, Failure> {
    let mut texts = Vec::new();
    let mut asked = Some(BTreeSet::new());
    for (place, script) in scripts.iter().enumerate() {
        match foreseen_of(script) {
            Ok((text, names)) => {
                texts.push(text);
                asked = asked.zip(names).map(|(all, own)| &all | &own);
            }
            Err(failure) => results.fail(place, &failure),
        }
    }
    if texts.len() < scripts.len() {
        return Ok(None);
    }
    // Where every name stands in a script, what is asked for is known.
    let Some(asked) = asked else { return Ok(Some(texts)) };
    let Some(name) = settings.keys().find(|name| !asked.contains(*name)) else {
        return Ok(Some(texts));
    };
    let names: Vec<String> = asked.into_iter().collect();
    let names = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
    Err(Failure::input(format!(
        "the setting {name} is given, but no script asks for such; asked for: {names}"
    )))
}

/// A script's text, and the settings that it asks for where that is known.
fn foreseen_of(script: &Path) -> Result<(String, Option<BTreeSet<String>>), Failure> {
    let text = input::text(script)?;
    let name = script.display().to_string();
    let foreseen = dryturn_script::foresee(&name, &text).map_err(Failure::input)?;
    let host = TerminalHost::of_script(script);
    for (line, scene) in &foreseen.scenes {
        host.read_text(scene).map_err(|error| {
            let line = line.map_or_else(String::new, |line| format!(":{line}"));
            Failure::input(format!("{name}{line}: {error}"))
        })?;
    }
    Ok((text, foreseen.settings))
}
