//! The kinds of faults: each has a name that does not change, a sentence, and what would have
//! been right.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Name of the fault of a guest that gave no answer in time.
pub(super) const TOO_LATE: &str = "too_late";

/// What was wrong. Texts of the guest are short, and control characters in them are escapes.
/// As text it is a clause without its full stop.
#[derive(Clone, Debug, PartialEq, Error, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "name", rename_all = "snake_case")]
pub enum FaultKind {
    /// The system cannot start it.
    #[error("it cannot be started: {why}")]
    NotStarted {
        /// What the system says.
        why: String,
    },
    /// It ended.
    #[error("it ended{}", how(*code, *signal))]
    Exited {
        /// Its exit code; absent where a signal ended it.
        code: Option<i32>,
        /// The signal that ended it.
        signal: Option<i32>,
    },
    /// It goes on, but can no longer be asked.
    #[error("it closed its standard input")]
    ClosedInput,
    /// It goes on, but can no longer answer.
    #[error("it closed its standard output")]
    ClosedOutput,
    /// No answer in time.
    #[error("it did not answer within {limit_ms} ms{}", begun(*begun_bytes))]
    TooLate {
        /// The limit.
        limit_ms: u64,
        /// Bytes that came of an answer that has no end.
        begun_bytes: u64,
    },
    /// It did not even read the question.
    #[error("it did not read the question within {limit_ms} ms")]
    NotTaken {
        /// The limit.
        limit_ms: u64,
    },
    /// It did not end when it should.
    #[error("it did not end within {limit_ms} ms after its standard input was closed")]
    StaysOn {
        /// The limit.
        limit_ms: u64,
    },
    /// A line without an end.
    #[error("it wrote a line longer than {most_bytes} bytes")]
    TooLong {
        /// The longest that is read.
        most_bytes: u64,
    },
    /// Bytes that are no text.
    #[error("its line is no UTF-8: {line}")]
    NotUtf8 {
        /// The line's start.
        line: String,
    },
    /// Text that is no JSON.
    #[error("its line is no JSON ({why}): {line}")]
    NotJson {
        /// What is wrong with it.
        why: String,
        /// The line's start.
        line: String,
    },
    /// JSON that is no response.
    #[error("its line is no response of JSON-RPC 2.0 ({why}): {line}")]
    NotAResponse {
        /// What is wrong with it.
        why: String,
        /// The line's start.
        line: String,
    },
    /// A response to something else.
    #[error("it answered id {got} where id {wanted} was asked")]
    WrongId {
        /// The question's.
        wanted: u64,
        /// The answer's.
        got: String,
    },
    /// Output that nobody had asked for: a second answer, or one before the question.
    #[error("it wrote to its standard output what nobody had asked for: {output}")]
    Unasked {
        /// The output's start.
        output: String,
    },
    /// It says that it cannot answer.
    #[error("it answered with error {code}: {message}")]
    ErrorAnswer {
        /// JSON-RPC's or its own code.
        code: i64,
        /// Its own words.
        message: String,
    },
    /// It says in a record that it cannot go on.
    #[error("it gave up")]
    GaveUp,
    /// It speaks another version.
    #[error("it speaks protocol {got}: must be 1")]
    WrongVersion {
        /// Its version.
        got: String,
    },
    /// A value of its answer.
    #[error("{field} of its answer is {value}: must be {allowed}")]
    BadField {
        /// The field, as in `scores[3]`.
        field: String,
        /// What stands there.
        value: String,
        /// What may stand there.
        allowed: String,
    },
    /// A record that is none.
    #[error("{field} of its record is {value}: must be {allowed}")]
    BadRecord {
        /// The field.
        field: String,
        /// What stands there.
        value: String,
        /// What may stand there.
        allowed: String,
    },
    /// A cube that cannot be.
    #[error("the cube it read cannot be: {why}")]
    IllegalCube {
        /// The law that it breaks.
        why: String,
    },
    /// A plan that leads elsewhere.
    #[error("its plan does not solve the cube: {turns}")]
    DoesNotSolve {
        /// The turns.
        turns: String,
    },
    /// A plan that is too long.
    #[error("its plan has {count} turns: at most {most} are allowed")]
    TooManyTurns {
        /// How many it has.
        count: u64,
        /// How many it may have.
        most: u64,
    },
}

fn how(code: Option<i32>, signal: Option<i32>) -> String {
    match (code, signal) {
        (Some(code), _) => format!(" with exit code {code}"),
        (None, Some(signal)) => format!(" by signal {signal}"),
        (None, None) => String::new(),
    }
}

fn begun(bytes: u64) -> String {
    match bytes {
        0 => String::new(),
        _ => format!("; {bytes} bytes came that no line end follows"),
    }
}

impl FaultKind {
    /// A value that is not what it must be; `value` is shown shortened.
    pub(crate) fn bad_field(
        field: impl Into<String>,
        value: impl core::fmt::Display,
        allowed: impl Into<String>,
    ) -> Self {
        let value = crate::visible::visible(&value.to_string(), 80);
        Self::BadField { field: field.into(), value, allowed: allowed.into() }
    }

    /// Whether the guest can no longer be asked: what it says next may belong to anything.
    #[must_use]
    pub fn ends(&self) -> bool {
        !matches!(
            self,
            Self::ErrorAnswer { .. }
                | Self::GaveUp
                | Self::BadField { .. }
                | Self::IllegalCube { .. }
                | Self::DoesNotSolve { .. }
                | Self::TooManyTurns { .. }
        )
    }

    /// The same with texts of the guest changed.
    pub(crate) fn with_texts(mut self, change: impl Fn(&str) -> String) -> Self {
        if let Self::NotUtf8 { line: text }
        | Self::NotJson { line: text, .. }
        | Self::NotAResponse { line: text, .. }
        | Self::WrongId { got: text, .. }
        | Self::Unasked { output: text }
        | Self::ErrorAnswer { message: text, .. }
        | Self::BadField { value: text, .. } = &mut self
        {
            *text = change(text);
        }
        self
    }

    /// A name that does not change.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::NotStarted { .. } => "not_started",
            Self::Exited { .. } => "exited",
            Self::ClosedInput => "closed_input",
            Self::ClosedOutput => "closed_output",
            Self::TooLate { .. } => TOO_LATE,
            Self::NotTaken { .. } => "not_taken",
            Self::StaysOn { .. } => "stays_on",
            Self::TooLong { .. } => "too_long",
            Self::NotUtf8 { .. } => "not_utf8",
            Self::NotJson { .. } => "not_json",
            Self::NotAResponse { .. } => "not_a_response",
            Self::WrongId { .. } => "wrong_id",
            Self::Unasked { .. } => "unasked",
            Self::ErrorAnswer { .. } => "error_answer",
            Self::GaveUp => "gave_up",
            Self::WrongVersion { .. } => "wrong_version",
            Self::BadField { .. } => "bad_field",
            Self::BadRecord { .. } => "bad_record",
            Self::IllegalCube { .. } => "illegal_cube",
            Self::DoesNotSolve { .. } => "does_not_solve",
            Self::TooManyTurns { .. } => "too_many_turns",
        }
    }

    /// What would have been right.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::NotStarted { .. } => "a program that can be run from here".to_owned(),
            Self::Exited { .. } => "a process that goes on until goodbye".to_owned(),
            Self::ClosedInput | Self::ClosedOutput => "both kept open until goodbye".to_owned(),
            Self::TooLate { limit_ms, .. } => {
                format!("one line with its end, flushed, within {limit_ms} ms")
            }
            Self::NotTaken { limit_ms } => format!("questions read within {limit_ms} ms"),
            Self::StaysOn { limit_ms } => {
                format!("an end within {limit_ms} ms of the end of its standard input")
            }
            Self::TooLong { most_bytes } => format!("at most {most_bytes} bytes a line"),
            Self::NotUtf8 { .. } | Self::NotJson { .. } | Self::NotAResponse { .. } => {
                "one line of JSON in UTF-8: jsonrpc \"2.0\", the question's id, and either a result \
                 or an error"
                    .to_owned()
            }
            Self::WrongId { wanted, .. } => format!("id {wanted}"),
            Self::Unasked { .. } => "one answer to each question, after it, and nothing else on \
                                     standard output"
                .to_owned(),
            Self::ErrorAnswer { .. } => "a result".to_owned(),
            Self::GaveUp => "a run to its end".to_owned(),
            Self::WrongVersion { .. } => "1".to_owned(),
            Self::BadField { allowed, .. } | Self::BadRecord { allowed, .. } => allowed.clone(),
            Self::IllegalCube { .. } => "a cube that turns can lead to".to_owned(),
            Self::DoesNotSolve { .. } => "turns after which the cube is solved".to_owned(),
            Self::TooManyTurns { most, .. } => format!("0 to {most} turns"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_those_that_are_written() {
        let kinds = [
            FaultKind::Exited { code: Some(1), signal: None },
            FaultKind::ClosedInput,
            FaultKind::NotUtf8 { line: String::new() },
            FaultKind::NotAResponse { why: String::new(), line: String::new() },
            FaultKind::TooManyTurns { count: 1000, most: 200 },
        ];
        for kind in kinds {
            let written = serde_json::to_value(&kind).unwrap();
            assert_eq!(written["name"], kind.name());
            assert_eq!(serde_json::from_value::<FaultKind>(written).unwrap(), kind);
        }
    }

    #[test]
    fn faults_are_clauses() {
        let late = FaultKind::TooLate { limit_ms: 50, begun_bytes: 7 };
        let text = "it did not answer within 50 ms; 7 bytes came that no line end follows";
        assert_eq!(late.to_string(), text);
        let ended = FaultKind::Exited { code: None, signal: Some(9) };
        assert_eq!(ended.to_string(), "it ended by signal 9");
    }
}
