//! What names stand for in the examples of verbs.

use dryturn_record::documents::ExampleName;

/// Name, and the line that makes it; a line uses names above it alone.
const NAMES: &[(&str, &str)] = &[
    ("foyer", "let foyer = scene(\"../scenes/foyer_morning.ron\");"),
    ("evening", "let evening = scene(\"../scenes/foyer_evening.ron\");"),
    ("rig", "let rig = build(foyer);"),
    ("calibration", "let calibration = calibrate(rig);"),
    ("cube", "let cube = random_cube(0);"),
    ("scan", "let scan = scan(rig, cube);"),
    ("reading", "let reading = read(rig, calibration, scan);"),
    ("score", "let score = score(reading, cube);"),
    ("plan", "let plan = plan(rig, cube);"),
    ("run", "let run = execute(rig, cube, plan);"),
    ("squared", "let squared = square(rig, run);"),
    ("pass", "let pass = rehearse(rig, calibration, cube);"),
    ("drill", "let drill = drill_rehearsals(foyer, 2);"),
    ("turning", "let turning = drill_axes(foyer, 20, plan);"),
    ("survey", "let survey = survey(foyer);"),
    ("readers", "let readers = compare_readers(\"morning\", foyer, foyer, 2);"),
    ("tuning", "let tuning = tune(foyer, #{ candidates: 16, proof: 1000 });"),
    ("budgets", "let budgets = search_budgets(foyer, 2, [1000, 5000]);"),
    ("comparison", "let comparison = compare_rigs(foyer, foyer, 2);"),
    ("log", "let log = bench_log(rig, \"R\");"),
    ("identified", "let identified = identify(foyer, [log]);"),
    ("recording", "let recording = run_log(rig, run);"),
    ("overlay", "let overlay = overlay(foyer, plan, recording);"),
];

/// What names stand for in the examples of verbs, each with the line that makes it. A line uses
/// names before it alone.
#[must_use]
pub fn example_names() -> Vec<ExampleName> {
    let name = |(name, line): &(&str, &str)| ExampleName {
        name: (*name).to_owned(),
        line: (*line).to_owned(),
    };
    NAMES.iter().map(name).collect()
}

/// Whether a line uses a name: not as a verb, a property or within a text.
fn uses(line: &str, name: &str) -> bool {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    let within_text = |at: usize| line[..at].matches('"').count() % 2 == 1;
    line.match_indices(name).any(|(at, _)| {
        let after = line[at + name.len()..].chars().next();
        let before = line[..at].chars().next_back();
        !within_text(at)
            && !before.is_some_and(|c| part(c) || c == '.')
            && !after.is_some_and(|c| part(c) || c == '(')
    })
}

/// The names that these lines use, and those that these stand on, in order.
#[must_use]
pub fn names_used_by(text: &str) -> Vec<ExampleName> {
    let mut needed: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut found = Vec::new();
    for own in example_names().into_iter().rev() {
        if needed.iter().any(|line| uses(line, &own.name)) {
            needed.push(own.line.clone());
            found.push(own);
        }
    }
    found.reverse();
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stand_on_names() {
        let names = |text: &str| {
            names_used_by(text).into_iter().map(|own| own.name).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(names("note(\"plan\" + run.plan); plan_of(\"R\");"), "foyer rig cube plan run");
        assert_eq!(names("let further = cube.turned(\"L D2\");"), "cube");
        assert_eq!(names("scan(1);"), "");
    }
}
