//! The command `plan` and the large tables.

use std::path::Path;
use std::time::Duration;

use dryturn_cube::{CubeState, notation};
use serde_json::Value as Json;
use sha2::{Digest as _, Sha256};

use crate::help;

fn json(call: &help::Call) -> Json {
    assert_eq!(call.code, 0, "{}", call.stderr);
    serde_json::from_str(&call.stdout).unwrap()
}

fn scene_path(name: &str) -> String {
    help::root().join(format!("scenes/{name}.ron")).display().to_string()
}

/// The figures of many plans, and their page.
#[test]
fn many_plans_are_counted() {
    let folder = tempfile::tempdir().unwrap();
    let scene = scene_path("foyer_morning");
    let arguments = [
        "plan", "--random", "12", "--seed", "7", "--tables", "compact", "--nodes", "60000",
        "--scene", &scene, "--json", "--out", "many",
    ];
    let document = json(&help::call(folder.path(), &arguments));
    assert_eq!((&document["solved"], &document["states"]), (&12.into(), &12.into()));
    let number = |pointer: &str| document.pointer(pointer).and_then(Json::as_f64).unwrap();
    for pointer in [
        "/turns/mean",
        "/turns/max",
        "/beats/mean",
        "/cost/mean",
        "/textbook/turns/mean",
        "/textbook/cost/mean",
        "/cost_ratio",
        "/predicted_ms/mean",
    ] {
        assert!(number(pointer) > 0.0, "{pointer}");
    }
    assert!(number("/cost_ratio") < 1.0, "{}", number("/cost_ratio"));
    assert_eq!(document["tables"], "compact");
    let costs: Vec<f64> = document["curve"]
        .as_array()
        .unwrap()
        .iter()
        .map(|point| point["objective"].as_f64().unwrap())
        .collect();
    assert!(costs.len() >= 5 && costs.is_sorted_by(|a, b| a >= b), "{costs:?}");
    let page = std::fs::read_to_string(folder.path().join("many/plans.html")).unwrap();
    assert!(page.contains("What more search saves") && page.contains("stop here"));
    // The same bytes, whatever the threads; the curve counts nodes at the scene's host's speed.
    let mut again = arguments;
    again[arguments.len() - 1] = "again";
    help::call(folder.path(), &[&again[..], &["--threads", "1"]].concat());
    for name in ["plans.json", "plans.html"] {
        let [first, second] =
            ["many", "again"].map(|out| std::fs::read(folder.path().join(out).join(name)).unwrap());
        assert!(first == second, "{name}");
    }
    let point = &document["curve"][0];
    let host = 3000.0;
    assert_eq!(point["search_ms"].as_f64(), point["nodes"].as_f64().map(|nodes| nodes / host));
    // Times of this machine come when they are asked for.
    assert!(document.get("nodes_per_s").is_none());
    let timed = json(&help::call(folder.path(), &[&arguments[..], &["--timings"]].concat()));
    assert!(timed["nodes_per_s"].as_f64().unwrap() > 0.0);
    assert!(timed["search_ms"]["first_plan"].as_f64().unwrap() > 0.0);
}

#[test]
fn a_proof_says_how_far_it_went() {
    let folder = tempfile::tempdir().unwrap();
    let plan = |arguments: &[&str]| {
        let all = [&["plan", "--tables", "compact", "--json", "--prove"], arguments].concat();
        json(&help::call(folder.path(), &all))
    };
    let near = plan(&["--objective", "turns", "R U2 F' L B"]);
    assert_eq!((&near["proved"], &near["turns"]), (&true.into(), &5.into()));
    let far = plan(&["--nodes", "50000", "R U2 F' L D B2 U' R2 F D' L2 B U F2 R D2"]);
    assert_eq!(far["proved"], false);
    assert!(far["none_below"].as_f64().unwrap() > 4.0);
}

#[test]
fn a_state_may_come_in_ron() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("state.ron"), "(turns: \"R U F2\")").unwrap();
    let arguments = ["plan", "--tables", "compact", "--json", "state.ron"];
    let document = json(&help::call(folder.path(), &arguments));
    let turns = notation::parse(document["plan"].as_str().unwrap()).unwrap();
    let state = CubeState::SOLVED.turned_by(&notation::parse("R U F2").unwrap());
    assert_eq!(state.turned_by(&turns), CubeState::SOLVED);
    for (text, said) in [
        ("(turn: \"R\")", "turn"),
        ("(turns: \"R\", faces: \"U=\")", "either faces or turns"),
        ("(turns: \"R4\")", "'R4'"),
    ] {
        std::fs::write(folder.path().join("state.ron"), text).unwrap();
        let call = help::call(folder.path(), &["plan", "state.ron"]);
        assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{}", call.stderr);
        assert!(call.stderr.contains("state.ron") && call.stderr.contains(said), "{}", call.stderr);
    }
}

#[test]
fn wrong_requests_are_one_line() {
    let folder = tempfile::tempdir().unwrap();
    for (arguments, said) in [
        (&["R", "--random", "3"][..], "--random"),
        (&["--random", "0"], "0"),
        (&["R", "--half", "9"], "must be 1 to 2"),
        (&["R", "--ms", "0"], "0"),
        (&["R", "--ms", "5", "--nodes", "5"], "--nodes"),
        (&["R", "--for-rig"], "--scene"),
        (&["R", "--ceiling", "0"], "must be 0.01 to 1"),
        (&["R", "--scene", "none.ron"], "none.ron"),
        (&["R", "--tables", "large", "--cache", "none"], "dryturn tables"),
        (&["R", "--objective", "luck"], "luck"),
    ] {
        let call = help::call(folder.path(), &[&["plan"], arguments].concat());
        assert_eq!(call.code, 2, "{arguments:?}: {}", call.stderr);
        assert_eq!(call.stderr.lines().count(), 1, "{}", call.stderr);
        assert!(call.stderr.contains(said), "{arguments:?}: {}", call.stderr);
    }
}

fn tables_in(cache: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(cache).into_iter().flatten().flatten();
    let names = entries.map(|entry| entry.file_name().to_string_lossy().into_owned());
    names.filter(|name| name.ends_with(".table")).collect()
}

/// A build that is killed at any moment leaves nothing that a later start trusts:
/// compact tables serve, and the plan says so.
#[test]
fn a_killed_build_leaves_nothing_to_trust() {
    let folder = tempfile::tempdir().unwrap();
    let cache = folder.path().join("cache");
    let cache_text = cache.to_str().unwrap();
    for wait_ms in [50, 400, 1500] {
        let mut build = help::program()
            .args(["tables", "--cache", cache_text])
            .stdout(std::process::Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(wait_ms));
        build.kill().unwrap();
        build.wait().unwrap();
        // A quick machine may have finished one: then it is whole.
        let finished = tables_in(&cache).len();
        // What such a build may leave beside the table's place.
        std::fs::write(cache.join("orient-turns.partial"), "half a table").unwrap();
        let check = help::call(folder.path(), &["tables", "--check", "--cache", cache_text]);
        assert_eq!(check.code, 1);
        assert_eq!(check.stdout.matches("whole").count(), finished, "{}", check.stdout);
        assert_eq!(check.stdout.matches("is missing").count(), 4 - finished, "{}", check.stdout);
    }
    let plan = ["plan", "R U F", "--json", "--objective", "turns", "--cache", cache_text];
    // A damaged table is said, and compact ones serve.
    std::fs::write(cache.join("orient-turns.table"), "not a table").unwrap();
    let call = help::call(folder.path(), &plan);
    assert!(call.stderr.contains("orient-turns.table") && call.stderr.contains("compact"));
    assert_eq!(json(&call)["tables"], "compact");
}

/// Builds all large tables (half a minute on two cores), by two processes at once,
/// and plans with them. CI runs it by name.
#[test]
#[ignore = "builds 300 MB of tables; CI runs it by name"]
fn large_tables_serve_from_the_cache() {
    let folder = tempfile::tempdir().unwrap();
    let cache = folder.path().join("cache");
    let cache_text = cache.to_str().unwrap();
    let mut other =
        help::program().args(["tables", "--json", "--cache", cache_text]).spawn().unwrap();
    let built = help::call(folder.path(), &["tables", "--cache", cache_text]);
    assert_eq!((built.code, other.wait().unwrap().code()), (0, Some(0)), "{}", built.stderr);
    assert_eq!(tables_in(&cache).len(), 4);
    let bytes: u64 = std::fs::read_dir(&cache)
        .unwrap()
        .map(|entry| entry.unwrap().metadata().unwrap().len())
        .sum();
    assert!(bytes < 300_000_000, "{bytes}");
    let check = help::call(folder.path(), &["tables", "--check", "--cache", cache_text]);
    assert_eq!((check.code, check.stdout.matches("whole").count()), (0, 4), "{}", check.stdout);
    // Another table under the same name would be trusted by whoever has an old one.
    for (name, digest) in [
        ("orient-turns", "c1c4c8562e7a6ef74890a4247de911db6fea4e77b2173fb960fb7ca6c5cf1e77"),
        ("arrange-turns", "6760ece835c945421ffc17bbe9ad65a7de7e8acefd86030f7d2ae725eb8ec825"),
        ("orient-beats-2-3", "455a2a13df51e9c516bcd1891820643ab2fed5187d2055fb6ce5187627d47f6e"),
        ("arrange-beats-2-3", "4e80e82f3e4458d3ac39eabe80293255de644eae5e7c8ec994942b1fb66c5569"),
    ] {
        let bytes = std::fs::read(cache.join(format!("{name}.table"))).unwrap();
        let found: String = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(found, digest, "{name}: other contents need another version in its header");
    }
    let many = |objective: &str, nodes: &str, threads: &str| {
        json(&help::call(
            folder.path(),
            &[
                "plan",
                "--random",
                "40",
                "--seed",
                "7",
                "--objective",
                objective,
                "--nodes",
                nodes,
                "--tables",
                "large",
                "--cache",
                cache_text,
                "--threads",
                threads,
                "--json",
            ],
        ))
    };
    for (objective, most) in [("turns", 19.3), ("time", 19.2)] {
        let document = many(objective, "200000", "2");
        assert_eq!(document["solved"], 40);
        assert_eq!(document["tables"], "large");
        let key = if objective == "turns" { "turns" } else { "cost" };
        let mean = document[key]["mean"].as_f64().unwrap();
        assert!(mean <= most, "{objective}: {mean}");
        assert_eq!(document[key], many(objective, "200000", "1")[key]);
    }
    // The same proofs from large tables as from compact ones.
    for objective in ["turns", "time"] {
        let prove = |tables: &str| {
            let scramble = "R U2 F' L B D'";
            let document = json(&help::call(
                folder.path(),
                &[
                    "plan",
                    scramble,
                    "--prove",
                    "--nodes",
                    "100000000",
                    "--objective",
                    objective,
                    "--tables",
                    tables,
                    "--cache",
                    cache_text,
                    "--json",
                ],
            ));
            assert_eq!(document["proved"], true);
            document["cost"].clone()
        };
        assert_eq!(prove("large"), prove("compact"));
    }
}
