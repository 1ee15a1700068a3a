//! `dryturn schema NAME`: the JSON Schema of something that is written down.

use dryturn_guests::schema as guests;
use dryturn_handoff::GuestRole;
use dryturn_record::schema;

use crate::failure::Failure;
use crate::say;
use crate::shared::Shared;

/// What `schema` takes.
#[derive(clap::Args)]
pub(crate) struct SchemaArgs {
    /// ledger, document, error, manifest, coco, classes, rig-plan; or guest-reader, guest-planner,
    /// guest-host, guest-controller: lines of both sides between Dryturn and a guest
    #[arg(value_name = "NAME")]
    name: String,
}

pub(crate) fn run(args: &SchemaArgs, shared: &Shared) -> Result<u8, Failure> {
    if shared.out.is_some() {
        return Err(Failure::input("--out: `schema` prints and writes no files"));
    }
    let name = &args.name;
    let role = name.strip_prefix("guest-").and_then(GuestRole::named);
    let own = schema::named(name).map(schema::Named::schema);
    let found = own.or_else(|| role.map(guests::lines)).ok_or_else(|| {
        let mut names: Vec<String> = schema::ALL.iter().map(|own| own.name.to_owned()).collect();
        names.extend(GuestRole::ALL.map(|role| format!("guest-{role}")));
        Failure::input(format!("nothing is called {name:?}: must be {}", names.join(", ")))
    })?;
    say::document(&found)?;
    Ok(0)
}
