//! Verbs find their script wherever they are called from.

use std::sync::Arc;

use dryturn_script::{Host, run};
use dryturn_units::noise::Seed;

struct NoFiles;

impl Host for NoFiles {
    fn read_text(&self, path: &str) -> Result<String, String> {
        Err(format!("{path}: no such file"))
    }

    fn progress(&self, _: &str, _: usize, _: usize) {}
}

fn notes(text: &str) -> Vec<String> {
    run("c.rhai", text, Seed::new(1), Arc::new(NoFiles)).unwrap().notes
}

#[test]
fn callbacks_and_functions_call_verbs() {
    let first = notes("note(random_cube(3).faces);");
    for text in [
        "fn of(trial) { random_cube(trial).faces } note(of(3));",
        "note([3].map(|trial| random_cube(trial).faces)[0]);",
        "note([2, 3].filter(|trial| random_cube(trial) == random_cube(3)).map(|t| random_cube(t))[0].faces);",
        "let of = Fn(\"random_cube\"); note(of.call(3).faces);",
        "let of = |trial| random_cube(trial); note(of.call(3).faces);",
        "fn own(a) { [a].map(|trial| random_cube(trial).faces)[0] } note([3].map(|t| own(t))[0]);",
        "[3].for_each(|| note(random_cube(this).faces));",
    ] {
        assert_eq!(notes(text), first, "{text}");
    }
}

#[test]
fn faults_inside_callbacks_have_their_place() {
    let fault =
        |text: &str| run("c.rhai", text, Seed::new(1), Arc::new(NoFiles)).unwrap_err().to_string();
    let said = "the trial's number is -1: must be 0 to 9223372036854775807";
    assert_eq!(fault("let a = 1;\nrandom_cube(-1);"), format!("c.rhai:2:1: {said}"));
    assert_eq!(
        fault("let a = [-1]\n.map(|trial| random_cube(trial));"),
        format!("c.rhai:2:14: {said}")
    );
    let unknown = fault("scan(solved(), 1);");
    assert!(unknown.contains("other arguments: scan (Cube, i64)"), "{unknown}");
}
