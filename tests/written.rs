//! Everything that is written down is as its types and schemas say: every document that any test
//! here makes the program print, and every ledger of a script, is read back and held against its
//! schema, by the general library `jsonschema` (and, with `tests/reference/written.py`, by
//! Python's of the same name).

use std::collections::BTreeSet;
use std::sync::LazyLock;

use dryturn_record::documents::{ErrorDocument, Issued};
use dryturn_record::{json, ledger, schema, tables};
use dryturn_studies::sets::{CocoDocument, Manifest, Subset};
use dryturn_studies::{FailureKind, RigPlanDocument, Severity};
use jsonschema::Validator;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value as Json;

use crate::help;

struct Schemas {
    ledger: Validator,
    document: Validator,
    error: Validator,
}

fn validator(name: &str) -> Validator {
    let schema = schema::named(name).unwrap().schema().to_value();
    jsonschema::draft202012::meta::validate(&schema).unwrap();
    jsonschema::draft202012::new(&schema).unwrap()
}

static SCHEMAS: LazyLock<Schemas> = LazyLock::new(|| Schemas {
    ledger: validator("ledger"),
    document: validator("document"),
    error: validator("error"),
});

fn valid(validator: &Validator, json: &Json) {
    let faults: Vec<String> = validator
        .iter_errors(json)
        .take(5)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    let text = json.to_string();
    assert!(faults.is_empty(), "{faults:#?}\n{}", text.chars().take(2000).collect::<String>());
}

/// Read into the type and written again, it is the same: no key is lost, none is made up.
fn read_back<T: Serialize + DeserializeOwned>(json: &Json) {
    let read: T =
        serde_json::from_value(json.clone()).unwrap_or_else(|error| panic!("{error}: {json:#}"));
    let again = dryturn_record::json(&read);
    assert!(again == *json, "read back otherwise:\n{json:#}\n{again:#}");
}

/// Looks at what the program printed: nothing, where it is no JSON document of its own.
pub(crate) fn printed(stdout: &str) {
    let Ok(json) = serde_json::from_str::<Json>(stdout) else { return };
    if json.get("document_version").is_some() {
        valid(&SCHEMAS.document, &json);
        read_back::<Issued>(&json);
    } else if json.get("exit_code").is_some() {
        valid(&SCHEMAS.error, &json);
        read_back::<ErrorDocument>(&json);
    } else if json.is_object() {
        assert!(json.get("$schema").is_some(), "a document without its version: {json:#}");
    }
}

/// Every line of a ledger.
pub(crate) fn kept(text: &str) {
    let lines = ledger::parse(text).unwrap();
    for (line, text) in lines.iter().zip(text.lines()) {
        assert_eq!(line.text(), text, "read back otherwise");
        valid(&SCHEMAS.ledger, &serde_json::from_str(text).unwrap());
    }
}

/// A file of this schema.
pub(crate) fn file<T: Serialize + DeserializeOwned>(name: &str, text: &str) {
    let json = serde_json::from_str(text).unwrap();
    valid(&validator(name), &json);
    read_back::<T>(&json);
}

#[test]
fn all_schemas_are_schemas_and_every_key_has_its_meaning() {
    let mut seen = BTreeSet::new();
    for own in schema::ALL {
        let name = own.name;
        assert!(seen.insert(name), "{name} twice");
        let json = own.schema().to_value();
        jsonschema::draft202012::meta::validate(&json).unwrap();
        let defs = json["$defs"].as_object().into_iter().flatten();
        for (part, body) in defs.chain([(&name.to_owned(), &json)]) {
            let keys = body["properties"].as_object().into_iter().flatten();
            for (key, value) in keys.filter(|(_, value)| value.get("const").is_none()) {
                assert!(value["description"].is_string(), "{part}.{key} has no meaning");
            }
        }
    }
}

/// `dryturn schema NAME` prints what this library has.
#[test]
fn the_program_prints_its_schemas() {
    let folder = tempfile::tempdir().unwrap();
    for own in schema::ALL {
        let call = help::call(folder.path(), &["schema", own.name]);
        assert_eq!(call.code, 0, "{}", call.stderr);
        let printed: Json = serde_json::from_str(&call.stdout).unwrap();
        assert_eq!(printed, own.schema().to_value(), "{}", own.name);
    }
    let none = help::call(folder.path(), &["schema", "nothing"]);
    assert_eq!(none.code, 2);
    for own in schema::ALL {
        assert!(none.stderr.contains(own.name), "{}", none.stderr);
    }
    assert_eq!(none.stderr.lines().count(), 1, "{}", none.stderr);
}

#[test]
fn the_page_of_keys_is_up_to_date() {
    help::golden("engine/front/record/README.md", &tables::page());
}

/// The files that commands write beside their documents.
#[test]
fn files_of_commands_are_read_back() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = help::root().join("scenes/workbench.ron");
    let scene = scene.to_str().unwrap();
    let call = |arguments: &[&str]| {
        let call = help::call(at, arguments);
        assert_eq!(call.code, 0, "{arguments:?}: {}", call.stderr);
    };
    let text = |name: &str| std::fs::read_to_string(at.join(name)).unwrap();
    call(&[
        "frames",
        scene,
        "--scans",
        "4",
        "--size",
        "160x120",
        "--samples",
        "1",
        "--vary",
        "lamps.*.flux_lm=x0.8..x1.2",
        "--turned-share",
        "0.5",
        "--out",
        "set",
    ]);
    file::<Manifest>("manifest", &text("set/manifest.json"));
    for half in ["train", "validation"] {
        file::<CocoDocument>("coco", &text(&format!("set/coco-{half}.json")));
    }
    call(&["plan", "R U F2 L", "--scene", scene, "--for-rig", "--out", "plan"]);
    file::<RigPlanDocument>("rig-plan", &text("plan/rig-plan.json"));
}

/// What documents call a thing is what tables, lists and folders call it.
#[test]
fn names_are_the_same_everywhere() {
    use dryturn_handoff::JamVerdict::{PushedThrough, ShaftBroken, Stalled};
    use dryturn_rehearsal::Verdict::{Guest, Jammed, Lost, Misread, Solved, Stopped, Unreadable};
    let kinds = FailureKind::ALL.map(|kind| (json(&kind), kind.key()));
    let subsets = Subset::ALL.map(|subset| (json(&subset), subset.word()));
    let jams = [PushedThrough, Stalled, ShaftBroken].map(|own| (json(&own), own.words()));
    let verdicts = [Solved, Unreadable, Jammed, Stopped, Misread, Lost, Guest];
    let verdicts = verdicts.map(|own| (json(&own), own.word()));
    let severities = [Severity::Doubtful, Severity::Wrong].map(|own| (json(&own), own.word()));
    for (written, called) in
        [&kinds[..], &subsets, &jams, &verdicts, &severities].into_iter().flatten()
    {
        assert_eq!(written, called);
    }
}
