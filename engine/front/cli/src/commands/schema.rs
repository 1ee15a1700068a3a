//! `dryturn schema NAME`: the JSON Schema of something that is written down.

use dryturn_record::schema;

use crate::failure::Failure;
use crate::say;
use crate::shared::Shared;

/// What `schema` takes.
#[derive(clap::Args)]
pub(crate) struct SchemaArgs {
    /// ledger, document, error, manifest, coco, classes or rig-plan
    #[arg(value_name = "NAME")]
    name: String,
}

pub(crate) fn run(args: &SchemaArgs, shared: &Shared) -> Result<u8, Failure> {
    if shared.out.is_some() {
        return Err(Failure::input("--out: `schema` prints and writes no files"));
    }
    let name = &args.name;
    let own = schema::named(name).ok_or_else(|| {
        let names: Vec<&str> = schema::ALL.iter().map(|own| own.name).collect();
        Failure::input(format!("nothing is called {name:?}: must be {}", names.join(", ")))
    })?;
    say::document(&own.schema())?;
    Ok(0)
}
