//! `dryturn rehearse SCRIPT…`

mod allowed;
mod foreseen;
mod results;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use dryturn_handoff::GuestRole;
use dryturn_record::Record;
use dryturn_record::documents::ScriptResult;
use dryturn_script::Settings;

use self::allowed::AllowedArgs;
use self::foreseen::foreseen;
use self::results::{Results, describe, tell};
use crate::failure::Failure;
use crate::host::{Allowed, TerminalHost, script_failure};
use crate::output::{Earlier, OutputFolder};
use crate::resume::finished::{Finished, Request};
use crate::shared::{Shared, setting};
use crate::{host, say, stop};

/// Where results go unless the user says otherwise.
const DEFAULT_OUT: &str = "dryturn-out";
/// What the program itself writes of every script.
const OWN_FILES: [&str; 2] = ["ledger.jsonl", "report.html"];

/// What `rehearse` takes.
#[derive(clap::Args)]
pub(crate) struct RehearseArgs {
    /// Script files (.rhai)
    #[arg(required = true, value_name = "SCRIPT")]
    scripts: Vec<PathBuf>,
    /// A value that the scripts ask for by name; repeat the option for more
    #[arg(long = "set", value_name = "NAME=VALUE", value_parser = setting)]
    settings: Vec<(String, String)>,
    #[command(flatten)]
    pub(crate) allowed: AllowedArgs,
}

pub(crate) fn run(args: RehearseArgs, shared: &Shared) -> Result<u8, Failure> {
    let settings: Settings = args.settings.into_iter().collect();
    host::allow(args.allowed.resolve()?)?;
    rehearse(&args.scripts, &settings, shared)
}

fn rehearse(scripts: &[PathBuf], settings: &Settings, shared: &Shared) -> Result<u8, Failure> {
    let folders = folders(scripts, shared)?;
    let mut results = Results::new(scripts, shared);
    let Some(texts) = foreseen(scripts, settings, &mut results)? else {
        return results.end();
    };
    // All of them, so that nothing is in the way of the last one either.
    let mut open = Vec::new();
    for folder in &folders {
        let output = OutputFolder::open(folder)?;
        OWN_FILES.iter().try_for_each(|name| output.check_target(name))?;
        open.push(output);
    }
    let mut unused = Unused::default();
    let mut cut = false;
    let suite = scripts.len() > 1;
    for (place, (script, text)) in scripts.iter().zip(&texts).enumerate() {
        if stop::requested().is_some() {
            cut = true;
            break;
        }
        let own = match one(script, text, &mut open[place], (settings, suite), shared) {
            Ok(done) => {
                results.finished += usize::from(!done.result.unfinished);
                cut |= done.result.unfinished;
                results.put(place, done.result);
                (done.unused_settings, done.unplayed)
            }
            Err(failure) => {
                results.fail(place, &failure);
                Default::default()
            }
        };
        unused.add(own);
    }
    if !cut {
        // The suite is done: the next call of it begins anew.
        if let Err(failure) = open.iter().try_for_each(Finished::forget) {
            results.end_by(&failure);
        }
    }
    if let Some(signal) = stop::requested().filter(|_| cut) {
        let (finished, all) = (results.finished, scripts.len());
        let again = if all > 1 { "; called again, it goes on with the others" } else { "" };
        let kept = format!("{finished} of {all} scripts were finished and are kept{again}");
        results.end_by(&Failure::Stopped(signal, kept));
    } else if let Some(what) = unused.first() {
        results.end_by(&Failure::input(format!("{what}; their results are kept")));
    }
    results.end()
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

/// What was given in the call and what no script used.
#[derive(Default)]
struct Unused(Option<(BTreeSet<String>, BTreeSet<GuestRole>)>);

impl Unused {
    /// One more script.
    fn add(&mut self, own: (BTreeSet<String>, BTreeSet<GuestRole>)) {
        self.0 = Some(match self.0.take() {
            None => own,
            Some(all) => (&all.0 & &own.0, &all.1 & &own.1),
        });
    }

    /// The first of it, for a person.
    fn first(&self) -> Option<String> {
        let (settings, roles) = self.0.as_ref()?;
        let setting = settings
            .first()
            .map(|name| format!("the setting {name} is given, but no script asks for such"));
        let guest = roles.first().map(|role| {
            format!(
                "a guest is named as {role}, but it has played in no script: guests play in the \
                 verbs rehearse and drill_rehearsals, a reader also in compare_readers"
            )
        });
        setting.or(guest)
    }
}

/// What came of a script. Of a suite's, a record stays until the suite is done.
struct Done {
    result: ScriptResult,
    unused_settings: BTreeSet<String>,
    unplayed: BTreeSet<GuestRole>,
}

fn one(
    script: &Path,
    text: &str,
    output: &mut OutputFolder,
    (settings, suite): (&Settings, bool),
    shared: &Shared,
) -> Result<Done, Failure> {
    let started = Instant::now();
    let seed = shared.seed.value();
    // Guests may answer otherwise the next time: what they have done is done anew.
    let lasting = suite && !Allowed::now().invited.anybody();
    let request = if lasting { Request::of(script, text, seed, settings) } else { None };
    let recalled =
        |request: &Request| Finished::recall(request, &TerminalHost::of_script(script), output);
    if let Some(before) = request.as_ref().map(recalled).transpose()?.flatten() {
        tell(&before.result, output.root(), shared)?;
        let name = script.display();
        say::message(&format!("{name}: was finished in the call that was ended; kept"));
        let (result, unused_settings) = (before.result, before.unused_settings);
        return Ok(Done { result, unused_settings, unplayed: BTreeSet::new() });
    }
    Finished::forget(output)?;
    let host = Arc::new(TerminalHost::of_script(script));
    let record = run_one(script, text, output, (settings, host.clone()), shared)?;
    let result = describe(script, output.root(), &record);
    let unused_settings = record.unused_settings.into_iter().collect();
    let unplayed = record.unplayed.into_iter().collect();
    let thought = record.thought;
    if let Some(request) = request.filter(|_| !record.unfinished)
        && let Err(failure) = Finished::keep(request, &host, output, (&result, &unused_settings))
    {
        // Its results are in their places; a suite that is ended will run it again.
        say::message(&format!("{}: no record is kept of it: {failure}", script.display()));
    }
    tell(&result, output.root(), shared)?;
    let took = started.elapsed().as_secs_f64();
    say::message(&format!("{}: took {took:.2} s", script.display()));
    for (role, own) in thought {
        let seconds = own.as_secs_f64();
        say::message(&format!("    of it, waiting for the {role}'s answers: {seconds:.2} s"));
    }
    Ok(Done { result, unused_settings, unplayed })
}

/// Runs a script and puts what it leaves in place.
fn run_one(
    script: &Path,
    text: &str,
    output: &mut OutputFolder,
    (settings, host): (&Settings, Arc<TerminalHost>),
    shared: &Shared,
) -> Result<Record, Failure> {
    let name = script.display().to_string();
    let given = (shared.seed, settings);
    let (record, end) = dryturn_script::run_kept(&name, text, given, host.clone());
    if let Err(error) = end
        && !record.unfinished
    {
        return Err(script_failure(error));
    }
    if record.unfinished {
        stop::writing();
    }
    let mut write = || {
        for file in &record.files {
            let bytes = dryturn_report::file_bytes(&file.content).map_err(Failure::ours)?;
            output.write(&file.path, &bytes)?;
        }
        output.write("ledger.jsonl", record.ledger_text().as_bytes())?;
        let file_name = script.file_name().unwrap_or_default().to_string_lossy();
        let page = dryturn_report::page(&file_name, shared.seed.value(), &record);
        output.write("report.html", page.as_bytes())
    };
    // Pictures and report are held to the script's limits too. Who wants the program to end wants
    // what there is.
    let within = dryturn_script::within_limits(&name, (shared.seed, host), "report", &mut write);
    match within {
        Ok(written) => written?,
        Err(_) if stop::requested().is_some() => write()?,
        Err(error) => return Err(script_failure(error)),
    }
    output.commit(Earlier::Clear, None)?;
    Ok(record)
}
