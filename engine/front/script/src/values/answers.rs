//! What verbs answer, as values of the language.

use dryturn_cube::Face;
use rhai::{Array, Dynamic, Map};
use serde::Serialize;
use serde_json::Value as Json;

/// JSON as a script's value.
pub(crate) fn from_json(json: &Json) -> Dynamic {
    match json {
        Json::Null => Dynamic::UNIT,
        Json::Bool(flag) => Dynamic::from_bool(*flag),
        Json::String(text) => text.clone().into(),
        Json::Number(n) => match n.as_i64() {
            Some(int) => Dynamic::from_int(int),
            None => Dynamic::from_float(n.as_f64().unwrap_or(f64::NAN)),
        },
        Json::Array(list) => list.iter().map(from_json).collect::<Array>().into(),
        Json::Object(fields) => fields
            .iter()
            .map(|(key, v)| (key.as_str().into(), from_json(v)))
            .collect::<Map>()
            .into(),
    }
}

/// A record as a value of the script.
pub(crate) fn shown(record: &impl Serialize) -> Dynamic {
    from_json(&dryturn_record::json(record))
}

pub(crate) fn int(value: usize) -> i64 {
    value as i64
}

/// A number, or `()` where there is none.
pub(crate) fn float_or_unit(value: Option<f64>) -> Dynamic {
    value.map_or(Dynamic::UNIT, Dynamic::from_float)
}

/// A text, or `()` where there is none.
pub(crate) fn text_or_unit(text: Option<String>) -> Dynamic {
    text.map_or(Dynamic::UNIT, Into::into)
}

pub(crate) fn map<const N: usize>(fields: [(&str, f64); N]) -> Map {
    fields.into_iter().map(|(key, value)| (key.into(), Dynamic::from_float(value))).collect()
}

pub(crate) fn degrees(of: &[f64; 6]) -> Array {
    of.iter().map(|deg| Dynamic::from_float(*deg)).collect()
}

pub(crate) fn letters(faces: &[Face]) -> Array {
    faces.iter().map(|face| face.to_string().into()).collect()
}
