//! `dryturn tables`

use std::path::PathBuf;
use std::time::Instant;

use dryturn_almanac::Almanac;
use dryturn_planning::TableKind;
use dryturn_record::documents::{Document, TableRecord, TablesDocument};
use indicatif::{ProgressBar, ProgressStyle};

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::say;
use crate::shared::Shared;

/// What `tables` takes.
#[derive(clap::Args)]
pub(crate) struct TablesArgs {
    /// Check every page of the tables that are there; build nothing
    #[arg(long)]
    check: bool,
    /// Folder of the tables, instead of the user's cache folder
    #[arg(long, value_name = "DIR")]
    cache: Option<PathBuf>,
}

/// The folder of tables: a given one, or the user's.
pub(crate) fn almanac(folder: Option<&PathBuf>) -> Result<Almanac, Failure> {
    match folder {
        Some(folder) => Ok(Almanac::in_folder(folder)),
        None => Almanac::of_user().ok_or_else(|| {
            Failure::input("there is no cache folder for this user: name one with --cache")
        }),
    }
}

pub(crate) fn run(args: &TablesArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["tables.json"])?;
    let almanac = almanac(args.cache.as_ref())?;
    let mut all_fine = true;
    let mut tables = Vec::new();
    for kind in TableKind::all() {
        let path = almanac.path(kind).display().to_string();
        let started = Instant::now();
        let state = if args.check {
            match almanac.verify(kind) {
                Ok(()) => "whole".to_owned(),
                Err(why) => {
                    all_fine = false;
                    why
                }
            }
        } else {
            match almanac.verify(kind) {
                Ok(()) => "was there".to_owned(),
                Err(why) => {
                    if almanac.path(kind).exists() {
                        say::message(&format!("{why}: it is built anew"));
                    }
                    build(&almanac, kind)?
                }
            }
        };
        let seconds = started.elapsed().as_secs_f64();
        if !shared.json {
            say::result(&format!("{kind}: {state} ({:.3} s)", seconds))?;
        }
        tables.push(TableRecord {
            table: kind.to_string(),
            path,
            bytes: kind.bytes(),
            state,
            seconds: shared.timings.then_some(seconds),
        });
    }
    let document = issued(Document::Tables(TablesDocument { tables }));
    out.keep(&document, "tables.json")?;
    if shared.json {
        say::document(&document)?;
    }
    Ok(u8::from(!all_fine))
}

fn build(almanac: &Almanac, kind: TableKind) -> Result<String, Failure> {
    let bar = say::bar(ProgressBar::new(1000));
    let style = ProgressStyle::with_template("{msg} [{bar:32}] {percent} %, {elapsed}");
    bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
    bar.set_message(kind.to_string());
    let progress = |share: f64| bar.set_position((share * 1000.0) as u64);
    let built = almanac.build(kind, &progress);
    bar.finish_and_clear();
    built.map(|()| "built".to_owned()).map_err(Failure::input)
}
