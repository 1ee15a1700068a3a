//! The tables of keys, made of the schemas, so that they cannot drift from what is written.

use core::fmt::Write as _;
use std::collections::BTreeMap;

use serde_json::Value as Json;

use crate::schema::{ALL, Named};

const INTRODUCTION: &str = "\
# What is written down

<!-- Made of the types in src/: UPDATE_GOLDENS=1 cargo test --release. -->

The tables below say what every key of the ledger and of every JSON document holds. `dryturn schema
NAME` prints the same as a JSON Schema, for programs. Numbers that would be infinite are null. Units
are the ends of names; a name without one has none, or its meaning says so. A part that stands in
several places has a table of its own further down.
";

/// The page.
#[must_use]
pub fn page() -> String {
    let mut text = INTRODUCTION.to_owned();
    let mut parts = BTreeMap::new();
    for own in &ALL {
        section(own, &mut text, &mut parts);
    }
    text.push_str("\n## Parts\n");
    for (name, part) in &parts {
        let _ = write!(text, "\n### {name}\n\n");
        text.push_str(&about(part));
        rows(part, &mut text);
    }
    text
}

/// The tables of one schema; what it refers to goes to the parts.
fn section(own: &Named, text: &mut String, parts: &mut BTreeMap<String, Json>) {
    let schema = own.schema().to_value();
    let _ = write!(text, "\n## {}\n\n`dryturn schema {}`: {}.\n", own.name, own.name, own.what);
    keys(&schema, "", text);
    let mut inlined = Vec::new();
    for variant in list(&schema, "oneOf") {
        let (key, word) = tag(variant);
        let _ = write!(text, "\n### `{word}`\n\n");
        text.push_str(&about(variant));
        // Tables of a line or a document stand here, not among the parts.
        match reference(variant) {
            Some(name) => {
                let body = &schema["$defs"][&name];
                let forms = alternatives(body, &schema);
                if !list(body, "anyOf").is_empty() {
                    keys(body, &key, text);
                }
                for (number, one) in forms.into_iter().enumerate() {
                    if number > 0 {
                        text.push_str("\nOr:\n");
                    }
                    rows_but(one, &key, text);
                }
                inlined.push(name);
            }
            None => rows_but(variant, &key, text),
        }
    }
    for (name, part) in schema["$defs"].as_object().into_iter().flatten() {
        if !inlined.contains(name) {
            parts.insert(name.clone(), part.clone());
        }
    }
}

/// What has its tables in one place: one of several forms, each; else itself.
fn alternatives<'a>(body: &'a Json, schema: &'a Json) -> Vec<&'a Json> {
    let forms = list(body, "anyOf");
    if forms.is_empty() {
        return vec![body];
    }
    forms.iter().map(|form| reference(form).map_or(form, |name| &schema["$defs"][name])).collect()
}

fn list<'a>(schema: &'a Json, key: &str) -> &'a [Json] {
    schema[key].as_array().map_or(&[], Vec::as_slice)
}

/// The key that tells variants apart, and the word that this one has.
fn tag(variant: &Json) -> (String, String) {
    let properties = variant["properties"].as_object();
    let word = properties
        .into_iter()
        .flatten()
        .find_map(|(key, value)| Some((key.clone(), value["const"].as_str()?.to_owned())));
    word.unwrap_or_default()
}

fn reference(schema: &Json) -> Option<String> {
    schema["$ref"].as_str()?.strip_prefix("#/$defs/").map(str::to_owned)
}

fn about(schema: &Json) -> String {
    match schema["description"].as_str() {
        Some(text) => format!("{}\n", one_line(text)),
        None => String::new(),
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").replace('|', "\\|")
}

fn rows(schema: &Json, text: &mut String) {
    rows_but(schema, "", text);
}

/// A row for each key but one; for a word of several, a row for each word.
fn rows_but(schema: &Json, but: &str, text: &mut String) {
    let words: Vec<&Json> =
        list(schema, "oneOf").iter().filter(|word| word["const"].is_string()).collect();
    if !words.is_empty() {
        text.push_str("\n| word | meaning |\n| --- | --- |\n");
        for word in words {
            let name = word["const"].as_str().unwrap_or_default();
            let meaning = one_line(word["description"].as_str().unwrap_or_default());
            let _ = writeln!(text, "| `{name}` | {meaning} |");
        }
        return;
    }
    for form in list(schema, "anyOf") {
        rows_but(form, but, text);
    }
    keys(schema, but, text);
    // Forms of which it has one, told apart by a key.
    for form in list(schema, "oneOf") {
        let (key, word) = tag(form);
        let about = one_line(form["description"].as_str().unwrap_or_default());
        let more = reference(form).map_or_else(String::new, |name| {
            format!(" and the keys of [{name}](#{})", name.to_lowercase())
        });
        let _ = write!(text, "\nWith `{key}` `{word}`{more}: {about}\n");
    }
}

/// A row for each key of its own but one.
fn keys(schema: &Json, but: &str, text: &mut String) {
    let Some(keys) = schema["properties"].as_object() else { return };
    // As the type has them: what is always there first, in its order.
    let always = list(schema, "required");
    let place = |key: &str| always.iter().position(|own| own == key).unwrap_or(usize::MAX);
    let mut shown: Vec<(&String, &Json)> = keys.iter().filter(|(key, _)| *key != but).collect();
    shown.sort_by_key(|(key, _)| place(key));
    if shown.is_empty() {
        return;
    }
    text.push_str("\n| key | holds | meaning |\n| --- | --- | --- |\n");
    for (key, value) in shown {
        let meaning = one_line(value["description"].as_str().unwrap_or_default());
        let held = holds(value);
        // What need not be there is left out instead of null.
        let held = if always.iter().any(|own| own == key) {
            held
        } else {
            format!("{}; may be absent", held.strip_suffix(" or null").unwrap_or(&held))
        };
        let _ = writeln!(text, "| `{key}` | {held} | {meaning} |");
    }
}

/// What a value is, in a few words.
fn holds(schema: &Json) -> String {
    if let Some(name) = reference(schema) {
        return format!("[{name}](#{})", name.to_lowercase());
    }
    if let Some(word) = schema["const"].as_str() {
        return format!("`{word}`");
    }
    let several = |key: &str| {
        let forms = list(schema, key);
        let null = forms.iter().any(|form| form["type"] == "null");
        let others = forms.iter().filter(|form| form["type"] != "null").map(holds);
        let words: Vec<String> = others.chain(null.then(|| "null".to_owned())).collect();
        words.join(" or ")
    };
    if !list(schema, "anyOf").is_empty() {
        return several("anyOf");
    }
    if !list(schema, "oneOf").is_empty() {
        return several("oneOf");
    }
    match &schema["type"] {
        Json::String(kind) => of_type(kind, schema),
        Json::Array(kinds) => {
            let words: Vec<String> =
                kinds.iter().filter_map(Json::as_str).map(|kind| of_type(kind, schema)).collect();
            words.join(" or ")
        }
        _ => "anything".to_owned(),
    }
}

fn of_type(kind: &str, schema: &Json) -> String {
    match kind {
        "integer" => "whole number".to_owned(),
        "boolean" => "true or false".to_owned(),
        "string" => "text".to_owned(),
        "array" => {
            let items = if schema["items"].is_object() {
                holds(&schema["items"])
            } else {
                "anything".to_owned()
            };
            match schema["maxItems"].as_u64().filter(|_| schema["maxItems"] == schema["minItems"]) {
                Some(0) => "empty list".to_owned(),
                Some(count) => format!("{count} × {}", bracketed(items)),
                None => format!("list of {}", bracketed(items)),
            }
        }
        "object" if schema["additionalProperties"].is_object() => {
            format!("map to {}", holds(&schema["additionalProperties"]))
        }
        "object" if schema["patternProperties"].is_object() => {
            let patterns = schema["patternProperties"].as_object();
            let held = patterns.and_then(|own| own.values().next()).map(holds);
            format!("map to {}", held.unwrap_or_default())
        }
        "object" => "map".to_owned(),
        other => other.to_owned(),
    }
}

fn bracketed(words: String) -> String {
    if words.contains(" or ") { format!("({words})") } else { words }
}
