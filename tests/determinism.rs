//! The same seed gives the same bytes, whatever the threads.

use std::collections::BTreeMap;
use std::path::Path;

use crate::help;

/// Every file below a folder with its bytes.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(at) = open.pop() {
        for entry in std::fs::read_dir(&at).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                found.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    found
}

const SCRIPT: &str = r#"
    let foyer = scene("foyer.ron");
    let pass = rehearse(foyer, 3);
    save_scan(pass.scan, "scan");
    let many = drill(foyer, 6);
    note(many.summary);
"#;

fn run(folder: &Path, out: &str, threads: &str, seed: &str) -> BTreeMap<String, Vec<u8>> {
    let arguments = ["rehearse", "drill.rhai", "--out", out, "--threads", threads, "--seed", seed];
    let call = help::call(folder, &arguments);
    assert_eq!(call.code, 0, "{}", call.stderr);
    contents(&folder.join(out))
}

/// Every key of every line is in the table of `scripts/README.md`.
fn ledger_keys_are_documented(ledger: &str) {
    let reference = dryturn_script::verb_reference();
    let (_, table) = reference.split_once("## The ledger").unwrap();
    for line in ledger.lines() {
        let line: serde_json::Value = serde_json::from_str(line).unwrap();
        for key in line.as_object().unwrap().keys() {
            assert!(
                table.contains(&format!("`{key}`")),
                "{key} of {} is not documented",
                line["stage"]
            );
        }
    }
}

#[test]
fn one_thread_and_two_give_the_same_bytes_twice() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("foyer.ron"), help::read("scenes/foyer_morning.ron")).unwrap();
    std::fs::write(at.join("drill.rhai"), SCRIPT).unwrap();
    let one = run(at, "a", "1", "5");
    assert!(one.len() >= 7, "{:?}", one.keys());
    for (out, threads) in [("b", "2"), ("c", "1"), ("d", "2")] {
        let other = run(at, out, threads, "5");
        assert_eq!(one.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>());
        for (name, bytes) in &one {
            assert!(bytes == &other[name], "{name} differs with {threads} threads");
        }
    }
    ledger_keys_are_documented(std::str::from_utf8(&one["ledger.jsonl"]).unwrap());
    let other_seed = run(at, "e", "2", "6");
    for name in ["ledger.jsonl", "scan-high.png", "scan-low.png"] {
        assert!(one[name] != other_seed[name], "{name} must follow the seed");
    }
}
