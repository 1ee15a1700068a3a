//! What stands in a result: field by field, so that what is wrong is named.

use serde_json::{Map, Value};

use crate::fault::FaultKind;

/// A result that can be read from JSON.
pub(crate) trait Answer: Sized {
    fn of(result: Value) -> Result<Self, FaultKind>;
}

/// A result that says nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Null;

impl Answer for Null {
    fn of(result: Value) -> Result<Self, FaultKind> {
        match result {
            Value::Null => Ok(Self),
            other => Err(FaultKind::bad_field("result", other, "null")),
        }
    }
}

/// The fields of an object. What is null counts as left out.
pub(crate) struct Fields {
    map: Map<String, Value>,
    known: Vec<&'static str>,
}

impl Fields {
    pub(crate) fn of(result: Value) -> Result<Self, FaultKind> {
        match result {
            Value::Object(map) => Ok(Self { map, known: Vec::new() }),
            other => Err(FaultKind::bad_field("result", other, "an object")),
        }
    }

    fn take(&mut self, name: &'static str) -> Option<Value> {
        self.known.push(name);
        self.map.remove(name).filter(|value| !value.is_null())
    }

    /// A field that may be left out; `read` gives `None` for what is not allowed.
    pub(crate) fn optional<T>(
        &mut self,
        name: &'static str,
        allowed: &str,
        read: impl FnOnce(&Value) -> Option<T>,
    ) -> Result<Option<T>, FaultKind> {
        let Some(value) = self.take(name) else { return Ok(None) };
        read(&value).map(Some).ok_or_else(|| FaultKind::bad_field(name, value, allowed))
    }

    /// A field that must be there.
    pub(crate) fn required<T>(
        &mut self,
        name: &'static str,
        allowed: &str,
        read: impl FnOnce(&Value) -> Option<T>,
    ) -> Result<T, FaultKind> {
        let missing = || FaultKind::bad_field(name, "missing", allowed);
        self.optional(name, allowed, read)?.ok_or_else(missing)
    }

    /// Text that may be left out.
    pub(crate) fn text(&mut self, name: &'static str) -> Result<Option<String>, FaultKind> {
        self.optional(name, "text", |value| value.as_str().map(str::to_owned))
    }

    /// Elementary steps that the rig's clock counts.
    pub(crate) fn operations(&mut self) -> Result<Option<u64>, FaultKind> {
        let allowed = format!("a whole number from 0 to {MOST_OPERATIONS}");
        let read = |value: &Value| value.as_u64().filter(|&steps| steps <= MOST_OPERATIONS);
        self.optional("operations", &allowed, read)
    }

    /// Nothing else may stand there.
    pub(crate) fn end(self) -> Result<(), FaultKind> {
        match self.map.into_iter().next() {
            None => Ok(()),
            Some((name, value)) => {
                let known = self.known.join(", ");
                let name = crate::visible::visible(&name, 40);
                Err(FaultKind::bad_field(name, value, format!("left out: the fields are {known}")))
            }
        }
    }
}

/// Most steps of an answer: more than any clock of a rig would wait for.
const MOST_OPERATIONS: u64 = 1_000_000_000_000;

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn what_is_wrong_is_named() {
        let read = |value: Value| -> Result<Option<u64>, FaultKind> {
            let mut fields = Fields::of(value)?;
            let steps = fields.operations()?;
            fields.end().map(|()| steps)
        };
        assert_eq!(read(json!({"operations": 7})), Ok(Some(7)));
        assert_eq!(read(json!({"operations": null})), Ok(None));
        for (wrong, told) in [
            (json!([]), "result of its answer is []: must be an object"),
            (json!({"operations": -1}), "operations of its answer is -1: must be a whole number"),
            (json!({"operations": 1e300}), "operations of its answer is 1e+300"),
            (json!({"operation": 7}), "operation of its answer is 7: must be left out"),
        ] {
            let text = read(wrong).unwrap_err().to_string();
            assert!(text.starts_with(told), "{text}");
        }
        assert!(Null::of(json!({})).unwrap_err().to_string().contains("must be null"));
    }
}
