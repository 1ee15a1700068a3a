//! The architecture, from the manifests and the files.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::help;

fn walk(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            walk(&path, into);
        } else {
            into.push(path);
        }
    }
}

fn sources(folder: &str) -> Vec<PathBuf> {
    let mut files = Vec::new();
    walk(&help::root().join(folder), &mut files);
    files.retain(|path| path.extension().is_some_and(|e| e == "rs"));
    files
}

/// Our own crates that a manifest names under `[dependencies]`.
fn dependencies(room: &str) -> BTreeSet<String> {
    let manifest = help::read(format!("{room}/Cargo.toml"));
    let section = manifest.split("[dependencies]").nth(1).unwrap_or_default();
    let section = section.split("\n[").next().unwrap_or_default();
    section
        .lines()
        .filter_map(|line| line.strip_prefix("dryturn-"))
        .map(|rest| rest.split('.').next().unwrap().to_owned())
        .collect()
}

#[test]
fn stages_never_depend_on_one_another_nor_on_the_front() {
    let base = ["units", "numerics", "statistics", "geometry", "cube", "scene", "handoff"];
    for stage in ["optics", "reading", "planning", "driving", "metrology"] {
        for dependency in dependencies(&format!("engine/stages/{stage}")) {
            assert!(base.contains(&dependency.as_str()), "{stage} depends on {dependency}");
        }
    }
    for (i, room) in base.iter().enumerate() {
        for dependency in dependencies(&format!("engine/base/{room}")) {
            assert!(base[..i].contains(&dependency.as_str()), "{room} depends on {dependency}");
        }
    }
}

#[test]
fn reading_cannot_see_the_truth() {
    for path in sources("engine/stages/reading/src") {
        let text = std::fs::read_to_string(&path).unwrap();
        for hidden in ["Labels", "AsBuilt", "optics", "random_state"] {
            assert!(!text.contains(hidden), "{} mentions {hidden}", path.display());
        }
    }
}

#[test]
fn only_script_knows_the_language_and_nothing_here_knows_the_window() {
    let mut manifests = Vec::new();
    walk(&help::root().join("engine"), &mut manifests);
    for path in manifests.iter().filter(|path| path.ends_with("Cargo.toml")) {
        let text = std::fs::read_to_string(path).unwrap();
        let room = path.parent().unwrap().file_name().unwrap().to_str().unwrap();
        assert!(room == "script" || !text.contains("rhai"), "{}", path.display());
        assert!(room == "window" || !text.contains("bevy"), "{}", path.display());
    }
}

/// A file's code: without comments, which show examples, and without test modules, which may do
/// more; what stands below a test module counts.
fn code(text: &str) -> String {
    const TESTS: &str = "#[cfg(test)]\nmod ";
    let (mut code, mut rest) = (String::new(), text);
    while let Some((before, after)) = rest.split_once(TESTS) {
        code.push_str(before);
        // As it is formatted, a module ends with a brace in the first column.
        let body = after.find(['{', ';']).unwrap();
        let own = &after[body..];
        let length = if own.starts_with(';') { 1 } else { own.find("\n}\n").unwrap() + 2 };
        let end = body + length;
        rest = &after[end..];
    }
    code.push_str(rest);
    let line = |line: &&str| !line.trim_start().starts_with("//");
    code.lines().filter(line).map(|line| format!("{line}\n")).collect()
}

#[test]
fn code_is_what_is_neither_comment_nor_test() {
    let text = "a();\n// b\n#[cfg(test)]\nmod tests {\n fn c() { d(); }\n}\ne();\n\
                #[cfg(test)]\nmod more;\nf();\n";
    assert_eq!(code(text).split_whitespace().collect::<String>(), "a();e();f();");
}

/// Base and stages have no clock, no files, no output.
#[test]
fn base_and_stages_are_functions() {
    for path in sources("engine/base").into_iter().chain(sources("engine/stages")) {
        if path
            .components()
            .any(|c| ["tests", "benches"].iter().any(|&apart| c.as_os_str() == apart))
        {
            continue;
        }
        let code = code(&std::fs::read_to_string(&path).unwrap());
        for banned in ["std::time", "std::fs", "println!", "eprintln!", "std::env", "HashMap"] {
            assert!(!code.contains(banned), "{} uses {banned}", path.display());
        }
    }
}

/// For each room of a crate (a file or folder of its root) the rooms that it names.
fn uses(source: &Path) -> BTreeMap<String, BTreeSet<String>> {
    let mut files = Vec::new();
    walk(source, &mut files);
    let room = |path: &Path| {
        let first = path.strip_prefix(source).unwrap().components().next().unwrap();
        first.as_os_str().to_str().unwrap().trim_end_matches(".rs").to_owned()
    };
    let rooms: BTreeSet<String> = files.iter().map(|path| room(path)).collect();
    let mut uses: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for path in &files {
        let own = room(path);
        if path.extension().is_none_or(|e| e != "rs") || ["lib", "main"].contains(&own.as_str()) {
            continue;
        }
        let code = code(&std::fs::read_to_string(path).unwrap());
        for part in code.split("crate::").skip(1) {
            // `crate::{a::X, b}` names several.
            let list = part.strip_prefix('{').and_then(|list| list.split(';').next());
            let names = list.map_or_else(|| vec![part], |list| list.split([',', '{']).collect());
            for name in names {
                let name = name.trim_start();
                let end = name.find(|c: char| !c.is_alphanumeric() && c != '_');
                let name = &name[..end.unwrap_or(name.len())];
                if name != own && rooms.contains(name) {
                    uses.entry(own.clone()).or_default().insert(name.to_owned());
                }
            }
        }
    }
    uses
}

/// Rooms that can be come to from each other.
fn circles(uses: &BTreeMap<String, BTreeSet<String>>) -> BTreeSet<String> {
    let reach = |from: &String| {
        let (mut seen, mut open) = (BTreeSet::new(), vec![from.clone()]);
        while let Some(at) = open.pop() {
            for next in uses.get(&at).into_iter().flatten() {
                if seen.insert(next.clone()) {
                    open.push(next.clone());
                }
            }
        }
        seen
    };
    let all: BTreeMap<&String, BTreeSet<String>> = uses.keys().map(|r| (r, reach(r))).collect();
    let mutual = |a: &String| {
        let both = |b: &&String| all[a].contains(*b) && all.get(b).is_some_and(|r| r.contains(a));
        all.keys().copied().filter(both).cloned().collect::<Vec<_>>()
    };
    all.keys().map(|room| mutual(room).join(" ")).filter(|names| !names.is_empty()).collect()
}

#[test]
fn rooms_of_a_crate_are_used_one_way() {
    let mut manifests = Vec::new();
    walk(&help::root().join("engine"), &mut manifests);
    let mut found = BTreeSet::new();
    for manifest in manifests.iter().filter(|path| path.ends_with("Cargo.toml")) {
        let folder = manifest.parent().unwrap();
        let name = folder.strip_prefix(help::root()).unwrap().display().to_string();
        let own = circles(&uses(&folder.join("src")));
        found.extend(own.into_iter().map(|rooms| (name.clone(), rooms)));
    }
    assert!(found.is_empty(), "rooms that use each other: {found:#?}");
}

/// No file has more than 400 lines, few more than 300.
#[test]
fn files_stay_short() {
    let mut long = Vec::new();
    for path in sources("engine").into_iter().chain(sources("tests")) {
        let lines = std::fs::read_to_string(&path).unwrap().lines().count();
        assert!(lines <= 400, "{} has {lines} lines", path.display());
        if lines > 300 {
            long.push(format!("{} has {lines} lines", path.display()));
        }
    }
    assert!(long.len() <= 15, "{long:#?}");
}

/// Every file and folder that the guide names is there, by the end of its path.
#[test]
fn the_contributors_guide_names_only_what_exists() {
    let guide = help::read("DEVELOPERS.md");
    let mut all = Vec::new();
    for top in ["engine", "tests", "assets", "scenes", "scripts", ".ci"] {
        walk(&help::root().join(top), &mut all);
    }
    let all: Vec<String> = all
        .iter()
        .map(|path| format!("/{}", path.strip_prefix(help::root()).unwrap().display()))
        .collect();
    let endings = [".rs", ".py", ".json", ".ron", ".rhai", ".css"];
    let mut named = 0;
    for word in guide.split('`').skip(1).step_by(2) {
        let is_path = word.chars().all(|c| c.is_alphanumeric() || "_-./".contains(c));
        let there = if is_path && endings.iter().any(|end| word.ends_with(end)) {
            all.iter().any(|path| path.ends_with(&format!("/{word}")))
        } else if is_path && word.ends_with('/') {
            all.iter().any(|path| path.contains(&format!("/{word}")))
        } else {
            continue;
        };
        assert!(there, "DEVELOPERS.md names {word}");
        named += 1;
    }
    assert!(named >= 100, "{named}");
    for room in ["base", "stages", "front"] {
        for entry in std::fs::read_dir(help::root().join("engine").join(room)).unwrap() {
            let entry = entry.unwrap();
            if entry.path().is_dir() {
                let name = format!("engine/{room}/{}/", entry.file_name().to_str().unwrap());
                assert!(guide.contains(&name), "DEVELOPERS.md does not name {name}");
            }
        }
    }
}

#[test]
fn the_top_level_is_as_designed() {
    let designed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "engine",
        "scripts",
        "scenes",
        "tests",
        "assets",
        "LICENSE-MIT",
        "LICENSE-APACHE",
        "target",
        "dryturn-out",
    ];
    for entry in std::fs::read_dir(help::root()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with('.') || designed.contains(&name.as_str()), "{name} at the top");
    }
}
