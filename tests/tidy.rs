//! The architecture, from the manifests and the files.

use std::collections::BTreeSet;
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
    let base = ["units", "geometry", "cube", "scene", "handoff"];
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
        let text = std::fs::read_to_string(&path).unwrap();
        // Comments show examples; tests may do more.
        let code: String = text
            .split("#[cfg(test)]")
            .next()
            .unwrap()
            .lines()
            .filter(|line| !line.trim_start().starts_with("//"))
            .collect();
        for banned in ["std::time", "std::fs", "println!", "eprintln!", "std::env", "HashMap"] {
            assert!(!code.contains(banned), "{} uses {banned}", path.display());
        }
    }
}

#[test]
fn files_stay_short() {
    for path in sources("engine").into_iter().chain(sources("tests")) {
        let lines = std::fs::read_to_string(&path).unwrap().lines().count();
        assert!(lines <= 500, "{} has {lines} lines", path.display());
    }
}

#[test]
fn the_contributors_guide_names_only_folders_that_exist() {
    let guide = help::read("DEVELOPERS.md");
    let mut named = 0;
    for word in guide.split('`').skip(1).step_by(2).filter(|w| w.ends_with('/')) {
        assert!(help::root().join(word).is_dir(), "DEVELOPERS.md names {word}");
        named += 1;
    }
    assert!(named >= 10);
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
