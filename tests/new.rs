//! The command `new`: a project that runs as written.

use std::path::Path;
use std::process::Command;

use crate::help;

/// What the steps of a workflow run, in order: the text after `run:`.
fn steps(workflow: &str) -> Vec<String> {
    let step = |line: &str| line.trim_start().strip_prefix("run: ").map(str::to_owned);
    workflow.lines().filter_map(step).collect()
}

/// Runs a step as a CI runner does: by bash in the project's folder, this program on its path.
fn runs(step: &str, project: &Path) -> (bool, String) {
    let program = Path::new(env!("CARGO_BIN_EXE_dryturn")).parent().unwrap().display().to_string();
    let path = format!("{program}:{}", std::env::var("PATH").unwrap());
    let call = Command::new("bash")
        .args(["-e", "-o", "pipefail", "-c", step])
        .current_dir(project)
        .env("PATH", path)
        .output()
        .unwrap();
    (call.status.success(), String::from_utf8_lossy(&call.stderr).into_owned())
}

#[test]
fn a_new_project_passes_and_its_workflow_runs_as_written() {
    let folder = tempfile::tempdir().unwrap();
    let call = help::call(folder.path(), &["new", "mine/rig", "--json"]);
    assert_eq!(call.code, 0, "{}", call.stderr);
    let project = folder.path().join("mine/rig");
    let document: serde_json::Value = serde_json::from_str(&call.stdout).unwrap();
    for file in document["files"].as_array().unwrap() {
        assert!(project.join(file.as_str().unwrap()).is_file(), "{file}");
    }
    // Nothing else is left beside it.
    assert_eq!(std::fs::read_dir(folder.path().join("mine")).unwrap().count(), 1);
    let workflow = project.join(".github/workflows/rehearsal.yml");
    let steps = steps(&std::fs::read_to_string(workflow).unwrap());
    assert_eq!(steps.len(), 3, "{steps:?}");
    for step in &steps {
        let (fine, stderr) = runs(step, &project);
        assert!(fine, "{step}\n{stderr}");
    }
    assert!(project.join("dryturn-out/rehearsal/report.html").is_file());
    // What is broken makes the workflow fail: a lamp too dim to read by.
    let rig = std::fs::read_to_string(project.join("rig.ron")).unwrap();
    let dark =
        rig.replace("flux_lm: 350.0", "flux_lm: 0.0").replace("flux_lm: 500.0", "flux_lm: 0.0");
    let dark = dark.replace("ambient_lux: 200.0", "ambient_lux: 0.2");
    std::fs::write(project.join("rig.ron"), dark).unwrap();
    assert!(!runs(&steps[2], &project).0);
}

#[test]
fn what_is_there_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::create_dir(at.join("empty")).unwrap();
    assert_eq!(help::call(at, &["new", "empty"]).code, 0);
    let before = help::contents(at);
    for (place, wanted) in [
        ("empty", "is not empty"),
        ("empty/rig.ron", "cannot be made a project"),
        (".", "is not empty"),
    ] {
        let call = help::call(at, &["new", place]);
        assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{place}: {}", call.stderr);
        assert!(call.stderr.contains(wanted), "{place}: {}", call.stderr);
    }
    assert_eq!(help::contents(at), before);
}
