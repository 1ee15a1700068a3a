//! Running a script within its limits.

use std::sync::Arc;

use dryturn_rehearsal::{Record, ledger};
use dryturn_units::noise::Seed;
use rhai::packages::{
    BasicArrayPackage, BasicMapPackage, CorePackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{Engine, EvalAltResult, Position};
use thiserror::Error;

use crate::session::{Fallible, Host, Session, Settings, fault};
use crate::{
    driving_handles, driving_verbs, expectations, handles, log_handles, log_verbs, optics_verbs,
    plan_verbs, reading_verbs, tune_verbs, verbs,
};

/// Most operations of one script; an endless loop ends here, after some seconds.
pub const MAX_OPERATIONS: u64 = 5_000_000;

/// Most nested function calls.
const MAX_CALLS: usize = 32;
/// Most bytes of one text.
const MAX_TEXT: usize = 100_000;
/// Most items of one list or map, nested ones included.
const MAX_ITEMS: usize = 10_000;

/// Why a script could not be run to its end. One line: script, line and column,
/// what is wrong.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{script}{}: {message}", place(*line, *column))]
pub struct ScriptError {
    /// The script, as the user named it.
    pub script: String,
    /// From 1, where known.
    pub line: Option<usize>,
    /// From 1, where known.
    pub column: Option<usize>,
    /// What is wrong.
    pub message: String,
}

fn place(line: Option<usize>, column: Option<usize>) -> String {
    [line, column].into_iter().flatten().map(|n| format!(":{n}")).collect()
}

impl ScriptError {
    fn new(script: &str, position: Position, message: String) -> Self {
        let message = message.replace('\n', " ");
        let (line, column) = (position.line(), position.position());
        Self { script: script.to_owned(), line, column, message }
    }
}

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
        .set_max_operations(MAX_OPERATIONS)
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
    // One call of the language's own could make gigabytes of a short text.
    engine.register_fn("replace", |text: &str, from: &str, to: &str| replaced(text, from, to));
    engine.register_fn("replace", |text: &str, from: char, to: &str| {
        replaced(text, from.encode_utf8(&mut [0; 4]), to)
    });
    let host = session.host.clone();
    engine.on_progress(move |_| host.stopped().then(|| "stopped".into()));
    handles::register(&mut engine);
    driving_handles::register(&mut engine);
    log_handles::register(&mut engine);
    verbs::register(&mut engine, session);
    driving_verbs::register(&mut engine, session);
    tune_verbs::register(&mut engine, session);
    plan_verbs::register(&mut engine, session);
    log_verbs::register(&mut engine, session);
    optics_verbs::register(&mut engine, session);
    reading_verbs::register(&mut engine, session);
    expectations::register(&mut engine, session);
    engine
}

fn replaced(text: &str, from: &str, to: &str) -> Fallible<String> {
    let bytes = text.len() + text.matches(from).count() * to.len();
    if bytes > MAX_TEXT {
        return fault(format!("a text has at most {MAX_TEXT} bytes; this one would have {bytes}"));
    }
    Ok(text.replace(from, to))
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
    let session = Arc::new(Session::new(seed, settings.clone(), host));
    // The ledger must not depend on where the script lies.
    let file_name = name.rsplit(['/', '\\']).next().unwrap_or(name);
    session.log(ledger::header(file_name, text, seed, settings));
    let engine = engine(&session);
    let tree = engine
        .compile(text)
        .map_err(|error| ScriptError::new(name, error.1, error.0.to_string()))?;
    engine.run_ast(&tree).map_err(|error| explain(name, *error))?;
    if let Some(unknown) = session.unused_setting() {
        let message = format!("the setting {unknown} is given, but the script asks for no such");
        return Err(ScriptError::new(name, Position::NONE, message));
    }
    let mut record = session.take_record();
    let held = record.expectations.len() - record.failed();
    record.ledger.push(serde_json::json!({
        "stage": "end", "expectations": record.expectations.len(), "held": held,
    }));
    Ok(record)
}

/// Checks a script's syntax without running it.
///
/// # Errors
/// The first syntax error, with its line.
pub fn check(name: &str, text: &str) -> Result<(), ScriptError> {
    struct Nothing;
    impl Host for Nothing {
        fn read_text(&self, path: &str) -> Result<String, String> {
            Err(format!("{path}: not read"))
        }
        fn progress(&self, _: &str, _: usize, _: usize) {}
    }
    let session = Arc::new(Session::new(Seed::new(0), Settings::new(), Arc::new(Nothing)));
    engine(&session)
        .compile(text)
        .map(drop)
        .map_err(|error| ScriptError::new(name, error.1, error.0.to_string()))
}

/// The innermost cause with its place, in words that say what is allowed.
fn explain(name: &str, error: EvalAltResult) -> ScriptError {
    let mut error = error;
    let mut outer = Position::NONE;
    loop {
        let position = error.position();
        if position != Position::NONE {
            outer = position;
        }
        error = match error {
            EvalAltResult::ErrorInFunctionCall(_, _, inner, _) => *inner,
            other => {
                let message = match &other {
                    EvalAltResult::ErrorFunctionNotFound(signature, _) => format!(
                        "unknown verb, or a verb with other arguments: {signature}; \
                         scripts/README.md lists all verbs"
                    ),
                    EvalAltResult::ErrorTooManyOperations(_) => format!(
                        "the script takes more than {MAX_OPERATIONS} operations: is a loop endless?"
                    ),
                    EvalAltResult::ErrorTerminated(_, _) => "stopped".to_owned(),
                    EvalAltResult::ErrorStackOverflow(_) => {
                        format!("more than {MAX_CALLS} function calls inside one another")
                    }
                    EvalAltResult::ErrorDataTooLarge(what, _) => format!(
                        "{what} too large: a text has at most {MAX_TEXT} bytes, a list or map \
                         {MAX_ITEMS} items"
                    ),
                    EvalAltResult::ErrorDotExpr(what, _) if what.contains("type '()'") => {
                        let name = what.split('\'').nth(1).unwrap_or_default();
                        format!(
                            "this value is empty, (): nothing was read or executed here, so it has \
                             no '{name}'; ask first whether it is ()"
                        )
                    }
                    EvalAltResult::ErrorRuntime(value, _) => value.to_string(),
                    other => {
                        let mut bare = other.to_string();
                        if let Some(at) = bare.rfind(" (line ") {
                            bare.truncate(at);
                        }
                        bare
                    }
                };
                return ScriptError::new(name, outer, message);
            }
        };
    }
}
