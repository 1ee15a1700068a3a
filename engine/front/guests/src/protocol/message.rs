//! The messages themselves.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};
use serde_json::{Map, Value};

use crate::fault::{FaultKind, Question};
use crate::visible::visible_bytes;

/// Longest start of a line that is shown.
const SHOWN: usize = 80;

/// The version of JSON-RPC.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TwoPointZero;

impl Serialize for TwoPointZero {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str("2.0")
    }
}

impl JsonSchema for TwoPointZero {
    fn schema_name() -> Cow<'static, str> {
        "JsonRpcVersion".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({"type": "string", "const": "2.0"})
    }
}

/// A question. Without parameters there is no `params`.
#[derive(Clone, Copy, Debug, Serialize)]
pub(crate) struct Request<'a, P> {
    pub(crate) jsonrpc: TwoPointZero,
    pub(crate) id: u64,
    pub(crate) method: Question,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) params: Option<&'a P>,
}

/// Why a guest gives no result.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub(crate) struct ErrorObject {
    /// One of JSON-RPC's codes, or the guest's own.
    pub(crate) code: i64,
    /// One sentence.
    pub(crate) message: String,
    /// Anything more; it is not looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) data: Option<Value>,
}

/// The result in a line that must be the response with this id.
pub(crate) fn result_of(line: &[u8], id: u64) -> Result<Value, FaultKind> {
    let shown = || visible_bytes(line.trim_ascii(), SHOWN);
    let text = core::str::from_utf8(line).map_err(|_| FaultKind::NotUtf8 { line: shown() })?;
    let message: Value = serde_json::from_str(text)
        .map_err(|error| FaultKind::NotJson { why: error.to_string(), line: shown() })?;
    let none = |why: &str| FaultKind::NotAResponse { why: why.to_owned(), line: shown() };
    let Value::Object(mut message) = message else {
        return Err(none("it is no object"));
    };
    if message.remove("jsonrpc") != Some(Value::from("2.0")) {
        return Err(none("its jsonrpc is not \"2.0\""));
    }
    if message.contains_key("method") {
        return Err(none("it is a request or a notification"));
    }
    let Some(got) = message.remove("id") else { return Err(none("its id is missing")) };
    let (result, error) = (message.remove("result"), message.remove("error"));
    if !message.is_empty() {
        return Err(none("it has more members than jsonrpc, id and result or error"));
    }
    // An error to a question that it could not make out has the id null.
    if got.as_u64() != Some(id) && !(got.is_null() && error.is_some()) {
        let got = visible_bytes(got.to_string().as_bytes(), 40);
        return Err(FaultKind::WrongId { wanted: id, got });
    }
    match (result, error) {
        (Some(result), None) => Ok(result),
        (None, Some(Value::Object(error))) => {
            Err(error_of(error)
                .unwrap_or_else(|| none("its error lacks a whole code or a message")))
        }
        (None, Some(_)) => Err(none("its error is no object")),
        (Some(_), Some(_)) => Err(none("it has both a result and an error")),
        (None, None) => Err(none("it has neither a result nor an error")),
    }
}

fn error_of(mut error: Map<String, Value>) -> Option<FaultKind> {
    let code = error.remove("code")?.as_i64()?;
    let message = error.remove("message")?;
    let message = visible_bytes(message.as_str()?.as_bytes(), 200);
    Some(FaultKind::ErrorAnswer { code, message })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(line: &str) -> &'static str {
        result_of(line.as_bytes(), 7).map_or_else(|kind| kind.name(), |_| "fine")
    }

    /// By the specification's section 5, <https://www.jsonrpc.org/specification>.
    #[test]
    fn responses_are_read_strictly() {
        assert_eq!(
            result_of(br#"{"jsonrpc":"2.0","id":7,"result":null}"#, 7),
            Ok(Value::Null),
            "null is a result"
        );
        for (line, wanted) in [
            (r#"{"id":7,"jsonrpc":"2.0","result":{}} "#, "fine"),
            (r#"{"jsonrpc":"2.0","id":7,"error":{"code":-32601,"message":"no"}}"#, "error_answer"),
            (r#"{"jsonrpc":"2.0","id":null,"error":{"code":1,"message":"?"}}"#, "error_answer"),
            (r#"{"jsonrpc":"2.0","id":null,"result":1}"#, "wrong_id"),
            (r#"{"jsonrpc":"2.0","id":8,"result":1}"#, "wrong_id"),
            (r#"{"jsonrpc":"2.0","id":"7","result":1}"#, "wrong_id"),
            (r#"{"jsonrpc":"2.0","id":7.5,"result":1}"#, "wrong_id"),
            (r#"{"jsonrpc":"2.0","id":7}"#, "not_a_response"),
            (r#"{"jsonrpc":"2.0","result":1}"#, "not_a_response"),
            (r#"{"jsonrpc":"1.0","id":7,"result":1}"#, "not_a_response"),
            (r#"{"id":7,"result":1}"#, "not_a_response"),
            (
                r#"{"jsonrpc":"2.0","id":7,"result":1,"error":{"code":1,"message":""}}"#,
                "not_a_response",
            ),
            (r#"{"jsonrpc":"2.0","id":7,"error":{"code":1.5,"message":""}}"#, "not_a_response"),
            (r#"{"jsonrpc":"2.0","id":7,"error":"no"}"#, "not_a_response"),
            (r#"{"jsonrpc":"2.0","id":7,"result":1,"more":1}"#, "not_a_response"),
            (r#"{"jsonrpc":"2.0","id":7,"method":"hello"}"#, "not_a_response"),
            (r#"[{"jsonrpc":"2.0","id":7,"result":1}]"#, "not_a_response"),
            (r#"{"jsonrpc":"2.0","id":7,"result":NaN}"#, "not_json"),
            (r#"{"jsonrpc":"2.0","id":7,"result":1e999}"#, "not_json"),
            ("", "not_json"),
            (r#"{"jsonrpc":"2.0","id":7,"result":1}{}"#, "not_json"),
        ] {
            assert_eq!(name(line), wanted, "{line}");
        }
        assert_eq!(result_of(b"\xff", 7).unwrap_err().name(), "not_utf8");
    }
}
