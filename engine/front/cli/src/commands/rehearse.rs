//! `dryturn rehearse SCRIPT…`

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use dryturn_rehearsal::Record;
use dryturn_script::Settings;
use serde_json::{Value as Json, json};

use crate::args::Shared;
use crate::failure::Failure;
use crate::host::{TerminalHost, script_failure};
use crate::output::{Earlier, OutputFolder};
use crate::{input, say};

/// Where results go unless the user says otherwise.
const DEFAULT_OUT: &str = "dryturn-out";

pub(crate) fn run(
    scripts: &[PathBuf],
    settings: &Settings,
    shared: &Shared,
) -> Result<u8, Failure> {
    let folders = folders(scripts, shared)?;
    let mut documents = Vec::new();
    let mut worst = 0;
    for (script, folder) in scripts.iter().zip(folders) {
        let (document, code) = match one(script, &folder, settings, shared) {
            Ok(record) => {
                let code = u8::from(record.failed() > 0);
                (describe(script, &folder, &record), code)
            }
            Err(failure) => {
                say::failure(&failure);
                let script = script.display().to_string();
                let error = failure.to_string();
                (json!({ "script": script, "error": error }), failure.exit_code())
            }
        };
        worst = worst.max(code);
        documents.push(document);
    }
    if shared.json {
        let seed = shared.seed.value();
        say::document(&json!({
            "command": "rehearse", "seed": seed, "exit_code": worst, "scripts": documents,
        }))?;
    }
    Ok(worst)
}

/// An output folder for each script: `--out` itself for a single one.
fn folders(scripts: &[PathBuf], shared: &Shared) -> Result<Vec<PathBuf>, Failure> {
    let stem = |script: &PathBuf| {
        script.file_stem().map(PathBuf::from).ok_or_else(|| {
            Failure::input(format!("{}: not the name of a script", script.display()))
        })
    };
    let stems = scripts.iter().map(stem).collect::<Result<Vec<_>, _>>()?;
    if let Some(twice) = (1..stems.len()).find(|&i| stems[..i].contains(&stems[i])) {
        return Err(Failure::input(format!(
            "{}: another script of this name is given; their results would overwrite each other",
            scripts[twice].display()
        )));
    }
    Ok(match (&shared.out, &stems[..]) {
        (Some(out), [_]) => vec![out.clone()],
        (out, _) => {
            let root = out.clone().unwrap_or_else(|| PathBuf::from(DEFAULT_OUT));
            stems.iter().map(|stem| root.join(stem)).collect()
        }
    })
}

fn one(
    script: &Path,
    folder: &Path,
    settings: &Settings,
    shared: &Shared,
) -> Result<Record, Failure> {
    let text = input::text(script)?;
    let mut output = OutputFolder::open(folder)?;
    let started = Instant::now();
    let host = Arc::new(TerminalHost::of_script(script));
    let name = script.display().to_string();
    let record = dryturn_script::run_with(&name, &text, (shared.seed, settings), host.clone())
        .map_err(script_failure)?;
    // Pictures and report are held to the script's limits too.
    let write = || {
        for file in &record.files {
            let bytes = dryturn_report::file_bytes(&file.content).map_err(Failure::ours)?;
            output.write(&file.path, &bytes)?;
        }
        output.write("ledger.jsonl", record.ledger_text().as_bytes())?;
        let file_name = script.file_name().unwrap_or_default().to_string_lossy();
        let page = dryturn_report::page(&file_name, shared.seed.value(), &record);
        output.write("report.html", page.as_bytes())
    };
    dryturn_script::within_limits(&name, (shared.seed, host), "report", write)
        .map_err(script_failure)??;
    output.commit(Earlier::Clear)?;
    tell(&name, folder, &record, started.elapsed().as_secs_f64(), shared)?;
    Ok(record)
}

fn tell(
    script: &str,
    folder: &Path,
    record: &Record,
    wall_s: f64,
    shared: &Shared,
) -> Result<(), Failure> {
    let mut lines = record.notes.clone();
    for e in &record.expectations {
        let mark = if e.held { "held  " } else { "FAILED" };
        let line = e.line.map_or_else(String::new, |line| format!(":{line}"));
        lines.push(format!("{mark} {script}{line}: {} ({})", e.message, e.figures));
    }
    let (all, failed) = (record.expectations.len(), record.failed());
    lines.push(format!(
        "{script}: {} of {all} expectations held; see {}",
        all - failed,
        folder.join("report.html").display()
    ));
    let text = lines.join("\n");
    if shared.json {
        say::aside(&text);
    } else {
        say::result(&text)?;
    }
    say::message(&format!("{script}: took {wall_s:.2} s"));
    Ok(())
}

fn describe(script: &Path, folder: &Path, record: &Record) -> Json {
    let expectations: Vec<Json> = record
        .expectations
        .iter()
        .map(|e| {
            json!({
                "message": e.message, "held": e.held, "figures": e.figures, "line": e.line,
            })
        })
        .collect();
    let mut files: Vec<&str> = record.files.iter().map(|file| file.path.as_str()).collect();
    files.extend(["ledger.jsonl", "report.html"]);
    json!({
        "script": script.display().to_string(), "out": folder.display().to_string(),
        "expectations": expectations, "failed": record.failed(), "notes": record.notes,
        "files": files,
    })
}
