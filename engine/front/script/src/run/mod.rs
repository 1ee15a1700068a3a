//! Running a script within its limits.

mod error;
mod foresee;
mod whole;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use dryturn_record::ledger::{EndLine, Line, StartLine};
use dryturn_record::{Expectation, Record};
use dryturn_units::noise::Seed;
use dryturn_units::stop::Stop;
use rhai::packages::{
    BasicArrayPackage, BasicMapPackage, CorePackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{AST, Engine, Position};

use self::error::{Ended, explain, panicked};
pub use self::error::{ErrorKind, ScriptError, renamed};
#[cfg(test)]
pub(crate) use self::foresee::Nothing;
pub use self::foresee::{Foreseen, check, foresee};
use crate::session::limits::{MAX_CALLS, MAX_ITEMS, MAX_TEXT};
use crate::session::{Fallible, Host, Session, Settings, fault};
use crate::values::{handles, texts};
use crate::verbs;

pub(crate) fn engine(session: &Arc<Session>) -> Engine {
    let mut engine = Engine::new_raw();
    // No clock, no platform maths: what a script computes is the same everywhere.
    CorePackage::new().register_into_engine(&mut engine);
    LogicPackage::new().register_into_engine(&mut engine);
    BasicArrayPackage::new().register_into_engine(&mut engine);
    BasicMapPackage::new().register_into_engine(&mut engine);
    MoreStringPackage::new().register_into_engine(&mut engine);
    engine.disable_symbol("eval");
    engine
        // Counted here, over callbacks: the language's own count starts anew in them.
        .set_max_operations(0)
        .set_max_call_levels(MAX_CALLS)
        .set_max_expr_depths(256, 128)
        .set_max_string_size(MAX_TEXT)
        .set_max_array_size(MAX_ITEMS)
        .set_max_map_size(MAX_ITEMS)
        .set_max_variables(1000)
        .set_max_functions(500);
    let no_clock = || -> Fallible<()> { fault("a script has no clock, so it cannot sleep") };
    engine.register_fn("sleep", move |_: i64| no_clock());
    engine.register_fn("sleep", move |_: f64| no_clock());
    let s = session.clone();
    // Printing cannot fail: what is too much is left out.
    engine.on_print(move |text| drop(s.note(text)));
    let s = session.clone();
    engine.on_debug(move |text, _, _| drop(s.note(text)));
    let budget = session.budget.clone();
    engine.on_progress(move |_| budget.operation().then(|| "ended".into()));
    texts::register(&mut engine, session);
    handles::register(&mut engine);
    verbs::register(&mut engine, session);
    engine
}

/// Runs a script without settings; see [`run_with`].
///
/// # Errors
/// As [`run_with`].
pub fn run(name: &str, text: &str, seed: Seed, host: Arc<dyn Host>) -> Result<Record, ScriptError> {
    run_with(name, text, (seed, &Settings::new()), host)
}

/// Runs a script. `name` is what messages and the ledger call it.
///
/// # Errors
/// A fault in the script, with its line: syntax, an unknown verb, a bad value, a
/// limit reached; a setting that the script does not ask for. Expectations that do not hold are no errors but entries of
/// the record.
pub fn run_with(
    name: &str,
    text: &str,
    (seed, settings): (Seed, &Settings),
    host: Arc<dyn Host>,
) -> Result<Record, ScriptError> {
    let (record, end) = run_kept(name, text, (seed, settings), host);
    end?;
    if let Some(unknown) = record.unused_settings.first() {
        let message = format!("the setting {unknown} is given, but the script asks for no such");
        return Err(ScriptError::new(name, Position::NONE, message));
    }
    Ok(record)
}

/// Runs a script; what it had left when it ended, also where it ended by a fault. Settings
/// that it did not ask for are in the record. Where the host stopped it, the record says that it
/// is unfinished.
pub fn run_kept(
    name: &str,
    text: &str,
    (seed, settings): (Seed, &Settings),
    host: Arc<dyn Host>,
) -> (Record, Result<(), ScriptError>) {
    let session = Arc::new(Session::new(seed, settings.clone(), host));
    // The ledger must not depend on where the script lies.
    let file_name = name.rsplit(['/', '\\']).next().unwrap_or(name);
    session.log(Line::Start(StartLine::of(file_name, text, seed, settings)));
    let end = played(name, text, &session);
    let mut record = session.take_record();
    record.unused_settings = session.unused_settings();
    (record.unplayed, record.thought) = session.unseated();
    if end.is_ok() && record.expectations.is_empty() && !session.budget.limits.allow_none {
        record.expectations.push(nothing_expected());
    }
    let held = record.expectations.len() - record.failed();
    record.unfinished = end.as_ref().is_err_and(|error| error.kind == ErrorKind::Stopped);
    let unfinished = record.unfinished;
    let last = EndLine { expectations: record.expectations.len(), held, unfinished };
    record.ledger.push(Line::End(last));
    (record, end)
}

/// What a script lacks that cannot fail.
fn nothing_expected() -> Expectation {
    Expectation {
        message: "the script expects something: a script that expects nothing cannot fail, and \
                  passes with --allow-none only"
            .to_owned(),
        held: false,
        figures: "0 expectations".to_owned(),
        line: None,
    }
}

/// Does a work for a script under its limits: what is made of its record, for instance.
/// `doing` is what messages call it, as in `report`.
///
/// # Errors
/// It was stopped, took too long or too much memory, or panicked.
pub fn within_limits<T>(
    name: &str,
    (seed, host): (Seed, Arc<dyn Host>),
    doing: &str,
    work: impl FnOnce() -> T,
) -> Result<T, ScriptError> {
    let session = Session::new(seed, Settings::new(), host);
    session.budget.begins(doing, None, None);
    watched(name, &session, work)
}

/// Under the session's limits; a panic ends this work alone.
fn watched<T>(name: &str, session: &Session, work: impl FnOnce() -> T) -> Result<T, ScriptError> {
    let budget = session.budget.clone();
    let stop = Stop::new(move |bytes| budget.spent(bytes));
    match catch_unwind(AssertUnwindSafe(|| stop.watch(work))) {
        Ok(Ok(result)) => Ok(result),
        Ok(Err(_)) => Err(Ended::of(session).error(name, Position::NONE)),
        Err(cause) => Err(panicked(name, session, &*cause)),
    }
}

fn played(name: &str, text: &str, session: &Arc<Session>) -> Result<(), ScriptError> {
    let engine = engine(session);
    let tree = compiled(name, text, &engine)?;
    watched(name, session, || engine.run_ast(&tree))?
        .map_err(|error| explain(name, session, *error))?;
    // What the last step of all came to.
    match session.budget.end() {
        Some(_) => Err(Ended::of(session).error(name, Position::NONE)),
        None => Ok(()),
    }
}

/// Syntax, that all of it is closed, and that it hides no verb.
pub(crate) fn compiled(name: &str, text: &str, engine: &Engine) -> Result<AST, ScriptError> {
    let tree = engine
        .compile(text)
        .map_err(|error| ScriptError::new(name, error.1, error.0.to_string()))?;
    whole::check(name, text, engine, &tree)?;
    Ok(tree)
}
