//! What the page of verbs shows works: every example runs, and every property answers, in a small
//! scene.

use std::sync::Arc;

use dryturn_record::documents::Verb;
use dryturn_script::{Host, names_used_by, run, verbs};
use dryturn_units::noise::Seed;

struct Scenes;

impl Host for Scenes {
    fn read_text(&self, path: &str) -> Result<String, String> {
        let path = path.strip_prefix("../").unwrap_or(path);
        std::fs::read_to_string(format!("../../../{path}")).map_err(|error| error.to_string())
    }

    fn progress(&self, _: &str, _: usize, _: usize) {}
}

/// Tuning that takes seconds: few trials of one field.
const QUICK: &str = "#{ jam_rate: 0.5, candidates: 8, proof: 8, keep: [\"handover.policy\", \
    \"handover.release_angle_deg\", \"controller.speed_gain_per_s\", \
    \"controller.position_gain_per_s\", \"controller.speed_integral_per_s\", \
    \"controller.friction_feed_forward_ratio\", \"controller.wind_up_compensation_ratio\", \
    \"controller.hold_torque_share\", \"drive.speed_limit_rad_s\", \
    \"drive.torque_limit_n_m\"] }";

/// A line that makes a scene makes a small one, of one ray a pixel; one that tunes is quick.
fn small(line: &str) -> String {
    let Some((made, by)) = line.split_once(" = ") else { return line.to_owned() };
    let by = by.trim_end_matches(';');
    if by.starts_with("scene(") {
        format!("{made} = changed(resized({by}, 320, 240), \"cameras.*.samples_px\", 1);")
    } else if by.starts_with("tune(") {
        format!("{made} = tune(foyer, {QUICK});")
    } else {
        line.to_owned()
    }
}

/// The examples of a chapter, each in a block of its own, behind the names that they use.
fn script(chapter: &[Verb]) -> String {
    let property = |verb: &Verb| {
        let of = match verb.call.split_once('.') {
            Some((of, _)) if verb.of.is_some() && verb.example.is_none() => of,
            _ => return None,
        };
        // A scene stands for any; the others are named after what they are.
        let of = if of == "scene" { "foyer" } else { of };
        Some(format!("let answer = {of}.{};", verb.name))
    };
    let examples = chapter.iter().flat_map(|verb| [property(verb), verb.example.clone()]);
    let examples: Vec<String> = examples.flatten().collect();
    let names = names_used_by(&examples.join("\n"));
    // What makes a name runs once, there.
    let makes_name = |example: &&String| names.iter().any(|own| own.line == **example);
    let before: Vec<String> = names.iter().map(|own| small(&own.line)).collect();
    let blocks: Vec<String> = examples
        .iter()
        .filter(|example| !makes_name(example))
        .map(|own| format!("{{\n{own}\n}}"))
        .collect();
    format!("{}\n{}\n", before.join("\n"), blocks.join("\n"))
}

fn runs(chosen: impl Fn(&str) -> bool) {
    let verbs = verbs();
    let chapters = verbs.chunk_by(|one, other| one.chapter == other.chapter);
    for chapter in chapters.filter(|chapter| chosen(&chapter[0].chapter)) {
        let heading = &chapter[0].chapter;
        let text = script(chapter);
        if let Err(error) = run("examples.rhai", &text, Seed::new(1), Arc::new(Scenes)) {
            let numbered: Vec<String> =
                text.lines().enumerate().map(|(n, line)| format!("{:3} {line}", n + 1)).collect();
            panic!("{heading}: {error}\n{}", numbered.join("\n"));
        }
    }
}

const LONG: &str = "Tuning";

#[test]
fn every_example_runs() {
    runs(|chapter| chapter != LONG);
}

#[test]
fn examples_of_tuning_run() {
    runs(|chapter| chapter == LONG);
}
