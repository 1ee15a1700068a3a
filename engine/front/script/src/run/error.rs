//! Why a script did not come to its end, in words that say what is allowed.

use std::any::Any;

use rhai::{EvalAltResult, Position};
use thiserror::Error;

use crate::session::limits::{MAX_CALLS, MAX_ITEMS, MAX_TEXT};
use crate::session::{End, Session};
use crate::values::texts::text_of;

/// Most characters of a message: it may quote a script's text.
const LONGEST: usize = 1000;

/// What kind of end it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ErrorKind {
    /// The script is wrong, or has used up what it may.
    Script,
    /// Whoever started it wanted it to stop.
    Stopped,
    /// A bug of this program.
    Ours,
}

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
    /// Whose it is.
    pub kind: ErrorKind,
}

fn place(line: Option<usize>, column: Option<usize>) -> String {
    [line, column].into_iter().flatten().map(|n| format!(":{n}")).collect()
}

impl ScriptError {
    pub(crate) fn new(script: &str, position: Position, message: String) -> Self {
        let mut message = message.replace('\n', " ");
        if let Some((end, _)) = message.char_indices().nth(LONGEST) {
            message.truncate(end);
            message.push('…');
        }
        let (line, column) = (position.line(), position.position());
        Self { script: script.to_owned(), line, column, message, kind: ErrorKind::Script }
    }

    /// A bug of this program.
    #[must_use]
    pub fn ours(script: &str, message: String) -> Self {
        Self { kind: ErrorKind::Ours, ..Self::new(script, Position::NONE, message) }
    }
}

/// What broke a script off, as its budget has it.
pub(crate) struct Ended {
    message: String,
    kind: ErrorKind,
    line: Option<usize>,
}

impl Ended {
    pub(crate) fn of(session: &Session) -> Self {
        let end = session.budget.end().unwrap_or(End::Asked);
        let kind = if end == End::Asked { ErrorKind::Stopped } else { ErrorKind::Script };
        let line = session.budget.doing().and_then(|doing| doing.line);
        Self { message: session.budget.words(end), kind, line }
    }

    /// At a place, or at the line of the verb that was at work.
    pub(crate) fn error(self, script: &str, position: Position) -> ScriptError {
        let Self { message, kind, line } = self;
        let error = ScriptError::new(script, position, message);
        ScriptError { kind, line: error.line.or(line), ..error }
    }
}

/// A panic in one line: script, what it was at, seed, and where the panic came from.
pub(crate) fn panicked(script: &str, session: &Session, cause: &(dyn Any + Send)) -> ScriptError {
    let what = match (cause.downcast_ref::<&str>(), cause.downcast_ref::<String>()) {
        (Some(text), _) => (*text).to_owned(),
        (_, Some(text)) => text.clone(),
        _ => "no message".to_owned(),
    };
    let doing = session.budget.doing();
    let at = session.host.panicked_at().map_or_else(String::new, |at| format!(" at {at}"));
    let during = doing.as_ref().map_or_else(String::new, |doing| format!(" in {doing}"));
    let seed = session.rehearser.seed().value();
    let message = format!(
        "a bug of this program{at}: {what}; to report it give the script and its scenes, seed {seed}\
         {during}"
    );
    let line = doing.and_then(|doing| doing.line);
    ScriptError { line, ..ScriptError::ours(script, message) }
}

/// The innermost cause with its place.
pub(crate) fn explain(name: &str, session: &Session, error: EvalAltResult) -> ScriptError {
    let mut error = error;
    let mut outer = Position::NONE;
    loop {
        let position = error.position();
        if position != Position::NONE {
            outer = position;
        }
        error = match error {
            EvalAltResult::ErrorInFunctionCall(_, _, inner, _) => *inner,
            EvalAltResult::ErrorTerminated(_, _) => {
                return Ended::of(session).error(name, outer);
            }
            other => return ScriptError::new(name, outer, words(&other)),
        };
    }
}

/// Verbs by the names that they had, and those that they have.
const RENAMED: [(&str, &str); 3] = [
    ("drill", "drill_rehearsals; drill_axes drills the axes alone"),
    ("drill_turning", "drill_axes"),
    ("labelled_set", "frames"),
];

/// What a verb is called now, in a sentence, where it had this name.
#[must_use]
pub fn renamed(verb: &str) -> Option<String> {
    let (old, new) = RENAMED.into_iter().find(|(old, _)| *old == verb)?;
    Some(format!("the verb {old} is now called {new}"))
}

fn words(error: &EvalAltResult) -> String {
    match error {
        EvalAltResult::ErrorFunctionNotFound(signature, _)
            if let Some(words) = renamed(signature.split(' ').next().unwrap_or_default()) =>
        {
            words
        }
        EvalAltResult::ErrorFunctionNotFound(signature, _) => format!(
            "unknown verb, or a verb with other arguments: {signature}; dryturn verbs says \
             what there is"
        ),
        EvalAltResult::ErrorStackOverflow(_) => {
            format!("more than {MAX_CALLS} function calls inside one another")
        }
        EvalAltResult::ErrorDataTooLarge(what, _) => format!(
            "{what} too large: a text has at most {MAX_TEXT} bytes, a list or map {MAX_ITEMS} \
             items"
        ),
        EvalAltResult::ErrorDotExpr(what, _) if what.contains("type '()'") => {
            let name = what.split('\'').nth(1).unwrap_or_default();
            format!(
                "this value is empty, (): nothing was read or executed here, so it has no \
                 '{name}'; ask first whether it is ()"
            )
        }
        EvalAltResult::ErrorRuntime(value, _) => text_of(value)
            .unwrap_or_else(|_| "the script throws a value that is too long to show".to_owned()),
        other => {
            let mut bare = other.to_string();
            if let Some(at) = bare.rfind(" (line ") {
                bare.truncate(at);
            }
            bare
        }
    }
}
